//! Members of the queries of physics, by question; the same names stand in its JSON.

use super::Parameter;

const TEXT: &str = r#"{"type": "string", "maxLength": 200}"#;

const fn of(name: &'static str, about: &'static str) -> Parameter {
    Parameter {
        name,
        schema: TEXT,
        about,
    }
}

const ACCEPTANCE: Parameter = of(
    "acceptance",
    "Loss that still passes, where the criterion names one.",
);
const ACCURACY_PERCENT: Parameter = of("accuracy_percent", "Accuracy of the gauge in percent.");
const ADDING: Parameter = of("adding", "Mass that is to go in.");
const ADDING_UNIT: Parameter = of("adding_unit", "Unit, where the text has none.");
const ALTITUDE: Parameter = of("altitude", "Altitude of the place.");
const ALTITUDE_UNIT: Parameter = of("altitude_unit", "m or [ft_i].");
const BAROMETER: Parameter = of("barometer", "Absolute air pressure at the place.");
const BAROMETER_UNIT: Parameter = of("barometer_unit", "UCUM unit of it.");
const CRITERION: Parameter = of(
    "criterion",
    "What it has to show: words, or of a vacuum test a name such as END_500_20.",
);
const CRITERION_MINUTES: Parameter = of("criterion_minutes", "How long it has to stand.");
const CRITERION_SOURCE: Parameter = of("criterion_source", "Who says so.");
const DESIGN_PRESSURE: Parameter = of(
    "design_pressure",
    "Lowest design pressure on the nameplates: an input, never computed.",
);
const END_PRESSURE: Parameter = of("end_pressure", "Reading at the end.");
const END_TEMPERATURE: Parameter = of("end_temperature", "Temperature at the end.");
const FULL_SCALE: Parameter = of("full_scale", "Full scale it is a percentage of.");
const FULL_SCALE_UNIT: Parameter = of(
    "full_scale_unit",
    "Unit, where it is not that of the pressure.",
);
const GAUGE: Parameter = of(
    "gauge",
    "vented (reads against the air of the place) or sealed (corrected to sea level).",
);
const GROSS: Parameter = of("gross", "What the scale shows with the cylinder on it.");
const GROSS_UNIT: Parameter = of("gross_unit", "Unit, where the text has none.");
const IN_SHADE: Parameter = of(
    "in_shade",
    "yes: both temperatures were taken in the shade.",
);
const MARKING: Parameter = of(
    "marking",
    "Largest net mass marked on the cylinder for this content.",
);
const MARKING_UNIT: Parameter = of("marking_unit", "Unit, where the text has none.");
const MIDDLE_MINUTE: Parameter = of("middle_minute", "Minute of a reading in between.");
const MIDDLE_PRESSURE: Parameter = of("middle_pressure", "Reading in between.");
const MINUTES: Parameter = of("minutes", "How long it stood.");
const NOT_EXCLUDED: Parameter = of(
    "not_excluded",
    "Designations with commas: what a content check left.",
);
const OF_READING: Parameter = of("of_reading", "yes: the percentage is one of the reading.");
const ON_TESTED_PART: Parameter = of("on_tested_part", "yes: of the tested part, not of the air.");
const PRESSURE: Parameter = of("pressure", "What the gauge shows, or an absolute pressure.");
const PRESSURE_ACCURACY: Parameter = of("pressure_accuracy", "How far the gauge may be off.");
const PRESSURE_UNIT: Parameter = of(
    "pressure_unit",
    "UCUM, absolute: [psi], kPa, bar, um[Hg]; of a gauge: psig, kPa{gauge}, bar{gauge}.",
);
const REFRIGERANT: Parameter = of(
    "refrigerant",
    "Designation such as R-410A; of a fill limit also unknown.",
);
const RESOLUTION: Parameter = of("resolution", "Smallest step of the gauge.");
const RESTED: Parameter = of("rested", "yes: at a steady temperature in the shade.");
const SAME_PLACE: Parameter = of("same_place", "yes: both at the same place.");
const SETTLED_AFTER_FILLING: Parameter = of(
    "settled_after_filling",
    "yes: the gas had settled after filling.",
);
const SHOP_RULES: Parameter = of("shop_rules", "yes: also the stricter rule of the shop.");
const START_PRESSURE: Parameter = of("start_pressure", "Reading at the start.");
const START_TEMPERATURE: Parameter = of("start_temperature", "Temperature at the start.");
const TARE: Parameter = of(
    "tare",
    "Mass of the empty cylinder (TW), such as 26 lb 5 oz.",
);
const TARE_UNIT: Parameter = of("tare_unit", "Unit, where the text has none.");
const TEMPERATURE: Parameter = of("temperature", "Temperature of the liquid.");
const TEMPERATURE_ACCURACY: Parameter = of(
    "temperature_accuracy",
    "How far the thermometer may be off.",
);
const TEMPERATURE_UNIT: Parameter = of("temperature_unit", "UCUM: Cel, [degF], K, [degR].");
const UNIT: Parameter = of(
    "unit",
    "Unit of the one temperature or pressure that is given.",
);
const VOLUME: Parameter = of("volume", "Volume of the tested part.");
const VOLUME_UNIT: Parameter = of("volume_unit", "L, [gal_us], [cft_i] or m3.");
const WALL_TEMPERATURE: Parameter = of(
    "wall_temperature",
    "Temperature of the cylinder's wall, not of the air.",
);
const WATER_CAPACITY: Parameter = of("water_capacity", "WC on the collar.");
const WATER_CAPACITY_CONFIRMED: Parameter = of(
    "water_capacity_confirmed",
    "yes: the collar was read again although WC is below the tare.",
);
const WATER_CAPACITY_UNIT: Parameter = of("water_capacity_unit", "[lb_av], kg or L.");

pub(super) const SATURATION_FIELDS: &[Parameter] = &[
    REFRIGERANT,
    TEMPERATURE,
    TEMPERATURE_UNIT,
    PRESSURE,
    PRESSURE_UNIT,
    UNIT,
    GAUGE,
    ALTITUDE,
    ALTITUDE_UNIT,
    BAROMETER,
    BAROMETER_UNIT,
];

pub(super) const FILL_LIMIT_FIELDS: &[Parameter] = &[
    REFRIGERANT,
    NOT_EXCLUDED,
    WATER_CAPACITY,
    WATER_CAPACITY_UNIT,
    WATER_CAPACITY_CONFIRMED,
    TARE,
    TARE_UNIT,
    MARKING,
    MARKING_UNIT,
    SHOP_RULES,
    GROSS,
    GROSS_UNIT,
    ADDING,
    ADDING_UNIT,
];

pub(super) const CONTENT_CHECK_FIELDS: &[Parameter] = &[
    PRESSURE,
    PRESSURE_UNIT,
    GAUGE,
    ACCURACY_PERCENT,
    FULL_SCALE,
    FULL_SCALE_UNIT,
    OF_READING,
    WALL_TEMPERATURE,
    TEMPERATURE_UNIT,
    TEMPERATURE_ACCURACY,
    ALTITUDE,
    ALTITUDE_UNIT,
    BAROMETER,
    BAROMETER_UNIT,
    RESTED,
    GROSS,
    GROSS_UNIT,
    TARE,
    TARE_UNIT,
    WATER_CAPACITY,
    WATER_CAPACITY_UNIT,
];

pub(super) const PRESSURE_TEST_FIELDS: &[Parameter] = &[
    START_PRESSURE,
    START_TEMPERATURE,
    END_PRESSURE,
    END_TEMPERATURE,
    PRESSURE_UNIT,
    TEMPERATURE_UNIT,
    PRESSURE_ACCURACY,
    TEMPERATURE_ACCURACY,
    RESOLUTION,
    MINUTES,
    DESIGN_PRESSURE,
    GAUGE,
    ALTITUDE,
    ALTITUDE_UNIT,
    BAROMETER,
    BAROMETER_UNIT,
    CRITERION,
    CRITERION_SOURCE,
    CRITERION_MINUTES,
    ACCEPTANCE,
    IN_SHADE,
    ON_TESTED_PART,
    SAME_PLACE,
    SETTLED_AFTER_FILLING,
];

pub(super) const VACUUM_TEST_FIELDS: &[Parameter] = &[
    START_PRESSURE,
    MIDDLE_MINUTE,
    MIDDLE_PRESSURE,
    END_PRESSURE,
    PRESSURE_UNIT,
    MINUTES,
    CRITERION,
    VOLUME,
    VOLUME_UNIT,
];
