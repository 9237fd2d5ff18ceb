//! How long the physics takes: a look-up, its inverse, a content check over all refrigerants.
//!
//! `cargo bench -p reports --bench physics`. Wanted on one core: a look-up below 200 ns, its inverse
//! below 2 µs, a content check over everything below 50 µs.

use criterion::{Criterion, criterion_group, criterion_main};
use reports::mass::Mass;
use reports::number::Decimal;
use reports::physics::{
    Content, ContentReading, ContentTables, FillDensities, FillRequest, FillRules, GaugeAccuracy,
    GaugeKind, Pressure, SaturationTable, Temperature, WaterCapacity, content_check, fill_limit,
};
use std::hint::black_box;

fn saturation(bench: &mut Criterion) {
    let table = SaturationTable::shipped();
    for name in ["R-134a", "R-410A"] {
        let fluid = table.fluid(name).expect("a shipped fluid");
        bench.bench_function(&format!("saturation/{name}"), |bencher| {
            bencher.iter(|| fluid.at_kelvin(black_box(291.7)));
        });
        bench.bench_function(&format!("inverse/{name}"), |bencher| {
            bencher.iter(|| fluid.bubble_kelvin(black_box(987.6)));
        });
    }
}

fn reading() -> ContentReading {
    let pressure = |number, unit| Pressure::read("pressure", number, unit).expect("a pressure");
    ContentReading {
        pressure: Some(pressure("117.3", "psig")),
        gauge: Some(GaugeKind::Vented),
        accuracy: Some(GaugeAccuracy {
            percent: Decimal::from(1),
            full_scale: Some(pressure("800", "psig")),
            of_reading: false,
        }),
        wall_temperature: Temperature::read("temperature", "68", "[degF]").ok(),
        barometer: Some(pressure("83.4", "kPa")),
        rested: Some(true),
        gross: Some(Mass::from_steps(26 * Mass::POUND)),
        tare: Some(Mass::from_steps(17 * Mass::POUND)),
        water_capacity: WaterCapacity::read("wc", "26.2", "[lb_av]").ok(),
        ..ContentReading::default()
    }
}

fn content(bench: &mut Criterion) {
    let (tables, reading) = (ContentTables::in_force(), reading());
    bench.bench_function("content check over all", |bencher| {
        bencher.iter(|| content_check(tables, black_box(&reading)));
    });
}

fn fill(bench: &mut Criterion) {
    let request = |content| FillRequest {
        content,
        water_capacity: WaterCapacity::read("wc", "26.2", "[lb_av]").expect("read"),
        tare: None,
        water_capacity_confirmed: false,
        marking: None,
        shop_rules: false,
    };
    let named = request(Content::Named("R-410A".to_owned()));
    let unknown = request(Content::Unknown);
    for (name, request) in [("named", named), ("unknown", unknown)] {
        bench.bench_function(&format!("fill limit/{name}"), |bencher| {
            let (rules, densities) = (FillRules::shipped(), FillDensities::shipped());
            bencher.iter(|| fill_limit(rules, densities, black_box(&request)));
        });
    }
}

criterion_group!(benches, saturation, content, fill);
criterion_main!(benches);
