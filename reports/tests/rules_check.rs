//! The checker of rule sets: the ten sets pass it, and each fault planted in one is named.

use reports::day::Day;
use reports::rules::file::Overlay;
use reports::rules::{RuleFile, RuleSet, Tables, assemble, check};
use std::path::Path;

fn text_of(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(root.join("rules").join(name)).unwrap()
}

fn problems_in(name: &str, text: &str) -> Vec<String> {
    let set = RuleSet::from_toml(name, text).unwrap_or_else(|p| panic!("{}", p[0]));
    let today = Day::from_ymd(2026, 7, 1).unwrap();
    let found = check(name, &set, &Tables::shipped(), today);
    found.iter().map(ToString::to_string).collect()
}

#[test]
fn all_ten_sets_pass() {
    for name in [
        "us-federal-ods.toml",
        "us-federal-hfc.toml",
        "us-disposal-log.toml",
        "us-california.toml",
        "us-washington.toml",
        "eu-2024-573.toml",
        "gb-517.toml",
        "ca-halocarbon-2022.toml",
        "ch-orrchem.toml",
        "jp-yearly-co2e.toml",
    ] {
        assert_eq!(problems_in(name, &text_of(name)), Vec::<String>::new());
    }
}

/// A change of a set's text and what the checker must say of it.
fn says(name: &str, from: &str, to: &str, expected: &str) {
    let text = text_of(name);
    let changed = text.replacen(from, to, 1);
    assert_ne!(changed, text, "{from}");
    let found = problems_in(name, &changed);
    assert!(
        found.iter().any(|said| said == expected),
        "{found:#?}\nexpected: {expected}"
    );
}

#[test]
fn a_gap_names_the_value_the_band_and_the_days() {
    let row = "  { from = \"2019-01-01\", for = [\"industrial\"], is = \"30\", clause = \"40 \
     CFR 82.157(c)(2)(ii)\" },\n";
    let ended =
        format!("{row}  {{ from = \"2019-06-01\", for = [\"industrial\"], is = \"none\" }},\n");
    says(
        "us-federal-ods.toml",
        row,
        &ended,
        "us-federal-ods.toml: gap: value 'trigger' for industrial has no row from 2019-06-01 to \
         2036-12-31",
    );
    says(
        "us-federal-ods.toml",
        "from = \"2019-01-01\", is = \"10\", clause = \"40 CFR 82.157(e)(2)\"",
        "from = \"2019-03-01\", is = \"10\", clause = \"40 CFR 82.157(e)(2)\"",
        "us-federal-ods.toml: gap: value 'follow_up_time' has no row from 2019-01-01 to 2019-02-28",
    );
}

#[test]
fn a_gap_is_judged_only_where_the_value_is_used() {
    // The third cover block ends with 2020-04-09: a number only it needs may end there too, but the
    // other blocks go on. Washington's rate for air conditioning is asked of its own band only.
    let text = text_of("us-federal-ods.toml").replace(
        "rows = [{ from = \"2019-01-01\", is = \"125\", clause = \"40 CFR 82.157(j)\" }]",
        "rows = [{ from = \"2019-01-01\", is = \"125\", clause = \"c\" }, { from = \
         \"2024-01-01\", is = \"none\" }]",
    );
    let gap = "gap: value 'chronic' has no row from 2024-01-01 to 2036-12-31";
    assert_eq!(problems_in("o.toml", &text), [format!("o.toml: {gap}")]);
    let until = text.replace(
        "from     = \"2019-01-01\"\n\n# -",
        "from     = \"2019-01-01\"\nuntil = \"2023-12-31\"\n\n# -",
    );
    assert_ne!(until, text);
    assert_eq!(problems_in("o.toml", &until), Vec::<String>::new());
}

#[test]
fn two_rows_from_the_same_day_overlap() {
    says(
        "us-federal-ods.toml",
        "  { from = \"2019-01-01\", for = [\"other\"],      is = \"10\"",
        "  { from = \"2019-01-01\", for = [\"commercial\"], is = \"21\", clause = \"x\" },\n  { \
         from = \"2019-01-01\", for = [\"other\"],      is = \"10\"",
        "us-federal-ods.toml: values.trigger: overlap, two rows from 2019-01-01 for commercial",
    );
}

#[test]
fn unknown_names_are_answered_with_the_names_there_are() {
    let ods = "us-federal-ods.toml";
    says(
        ods,
        "starts   = [{ done = \"initial_test\" }]",
        "starts   = [{ done = \"inital_test\" }]",
        "us-federal-ods.toml: duties.follow_up_test: no duty named 'inital_test'; there are: \
         chronic_report, follow_up_test, initial_test, leak_inspection, plan, plan_work, \
         purge_notice, repair; nearest: initial_test",
    );
    says(
        ods,
        "starts  = [{ limit = \"chronic\" }]",
        "starts  = [{ limit = \"chronc\" }]",
        "us-federal-ods.toml: duties.chronic_report: no limit named 'chronc'; there are: chronic, \
         leak_rate; nearest: chronic",
    );
    says(
        ods,
        "for = [\"industrial\"], is = \"30\"",
        "for = [\"industry\"], is = \"30\"",
        "us-federal-ods.toml: values.trigger: no band named 'industry'; there are: commercial, \
         industrial, other",
    );
    says(
        ods,
        "refrigerant = { contains = \"us_ods\" }",
        "refrigerant = { contains = \"us_odss\" }",
        "us-federal-ods.toml: covers: no list named 'us_odss'; there are: ca_halocarbon, \
         ca_items_1_9, ch_ods, ch_stable, eu_annex_i, eu_annex_ii_1, eu_ods, jp_fluorocarbon, \
         synthetic, us_hfc, us_ods, us_substitutes; nearest: us_ods",
    );
    says(
        "us-disposal-log.toml",
        "full_charge = { over = \"above\", below = \"below\" }",
        "full_charge = { over = \"abov\", below = \"below\" }",
        "us-disposal-log.toml: covers: no value named 'abov'; there are: above, below, \
         keep_years; nearest: above",
    );
    says(
        ods,
        "under = \"relief\"",
        "under = \"releif\"",
        "us-federal-ods.toml: duties.plan_work: no extension ground named 'releif'; there are: \
         exempt_replacement, more_than_a_year, other_law, parts, radiological, relief, \
         second_year; nearest: relief",
    );
    says(
        ods,
        "facts  = { region = \"US-CO\", category",
        "facts  = { regon = \"US-CO\", category",
        "us-federal-ods.toml: examples.1: unknown word 'regon'; allowed: category, detector, \
         equipment, evacuated, full_charge, ghg_reporter, hermetic, indoors, installed, land, \
         mobile, motor_kw, owner_class, process_shutdown, refrigerant, region, residential, \
         year_round; nearest: region",
    );
    says(
        ods,
        "category = { is = [\"commercial_refrigeration\"] }",
        "category = { is = [\"comercial_refrigeration\"] }",
        "us-federal-ods.toml: bands.commercial: no category named 'comercial_refrigeration'; \
         there are: comfort_cooling, commercial_refrigeration, industrial_process, other, \
         other_refrigeration, refrigerated_transport, residential_light_commercial_ac; nearest: \
         commercial_refrigeration",
    );
}

#[test]
fn units_must_fit_their_use_and_numbers_their_unit() {
    let log = "us-disposal-log.toml";
    says(
        log,
        "unit     = \"lb\"",
        "unit     = \"kW\"",
        "us-disposal-log.toml: covers: value 'above' is in kW; expected here: lb, kg",
    );
    says(
        log,
        "is = \"3\"",
        "is = \"3.5\"",
        "us-disposal-log.toml: values.keep_years: row from 2018-01-01: '3.5' is no whole number \
         of years",
    );
    says(
        "us-federal-ods.toml",
        "is = \"03-01\"",
        "is = \"02-30\"",
        "us-federal-ods.toml: values.chronic_day: row from 2019-01-01: '02-30' is no month and \
         day such as 03-01",
    );
    says(
        log,
        "is = \"5\", clause = \"40 CFR 82.156(a)(3)\"",
        "is = \"5\"",
        "us-disposal-log.toml: values.above: row from 2018-01-01: no clause; say where it stands",
    );
}

#[test]
fn the_head_must_say_what_every_result_shows() {
    let log = "us-disposal-log.toml";
    says(
        log,
        "id           = \"us-disposal-log\"",
        "id           = \"US disposal\"",
        "us-disposal-log.toml: id: 'US disposal' is no id; expected letters a-z, digits and '-'",
    );
    says(
        log,
        "caution      = \"A working aid, not legal advice. The duty is the technician's; the \
         text of the regulation comes first.\"",
        "caution      = \" \"",
        "us-disposal-log.toml: caution: may not be empty: it is shown with every result",
    );
    says(
        log,
        "jurisdiction = \"US\"",
        "jurisdiction = \"usa\"",
        "us-disposal-log.toml: jurisdiction: 'usa' is no region; expected an ISO 3166 code such as US, \
         US-CO or US-CO-101, or EU",
    );
    let text = text_of(log);
    let few = text[..text.rfind("[[examples]]").unwrap()].to_string();
    let expected = "us-disposal-log.toml: examples: 5 examples; at least 6 are needed";
    assert_eq!(problems_in(log, &few), [expected]);
    says(
        "eu-2024-573.toml",
        "gwp_basis    = \"EU-2024/573\"",
        "",
        "eu-2024-573.toml: covers: 'co2e' is used, so 'gwp_basis' must be said at the top",
    );
    says(
        "jp-yearly-co2e.toml",
        "year_starts  = \"04-01\"",
        "",
        "jp-yearly-co2e.toml: year_starts: is missing, and 'fiscal_year' needs it",
    );
}

#[test]
fn a_value_is_used_or_named_as_information() {
    says(
        "us-california.toml",
        "[values.info_fee]",
        "[values.fee]",
        "us-california.toml: values.fee: used nowhere; use it, or name it 'info_...' when it is \
         only shown",
    );
}

#[test]
fn shapes_that_the_words_alone_allow_are_refused() {
    let ods = "us-federal-ods.toml";
    says(
        ods,
        "starts  = [{ limit = \"chronic\" }]",
        "starts  = [{ limit = \"chronic\", covered = true }]",
        "us-federal-ods.toml: duties.chronic_report: a start needs exactly one of event, limit, \
         done, missed, covered, period_end",
    );
    says(
        ods,
        "due     = [{ by = \"chronic_day\", after = \"period_end\" }]",
        "no_number = \"soon\"\ndue     = [{ by = \"chronic_day\", after = \"period_end\" }]",
        "us-federal-ods.toml: duties.chronic_report: needs either 'due' lines or 'no_number', \
         and not both",
    );
    says(
        ods,
        "due     = [{ within = \"purge_notice\" }]",
        "due     = [{ within = \"purge_notice\", on = \"purge_notice\" }]",
        "us-federal-ods.toml: duties.purge_notice: a line needs exactly one of within, by, on, \
         granted",
    );
    says(
        ods,
        "period   = \"calendar_year\"\n",
        "",
        "us-federal-ods.toml: limits.chronic: measure 'loss_of_period' needs a 'period'",
    );
    says(
        ods,
        "over    = \"trigger\"\n",
        "",
        "us-federal-ods.toml: limits.leak_rate: needs one or two of over, at_least, below, at_most",
    );
    says(
        ods,
        "full_charge = { at_least = \"size\" }",
        "full_charge = { at_least = \"trigger\" }",
        "us-federal-ods.toml: covers: value 'trigger' has rows for single bands, but here the \
         band is not known yet",
    );
}

const COUNTY: &str = r#"
id       = "pueblo-example"
overlays = "us-federal-ods"
layer    = "local"
title    = "Example county: lower leak rate for shops (invented)"
reason   = "county ordinance 12, adopted 2024-04-02 (invented)"
where    = { region = { is = ["US-CO-101"] } }

[values.trigger]
rows = [
  { from = "2024-06-01", for = ["commercial"], is = "15", clause = "ordinance 12 s. 3 (invented)" },
]
"#;

fn laid(text: &str) -> Result<Vec<RuleSet>, Vec<String>> {
    let base = RuleFile::from_toml("us-federal-ods.toml", &text_of("us-federal-ods.toml")).unwrap();
    let layer = Overlay::from_toml("county.toml", text).unwrap();
    assemble(
        vec![RuleFile::Overlay(Box::new(layer)), base],
        &Tables::shipped(),
    )
    .map_err(|problems| problems.iter().map(ToString::to_string).collect())
}

#[test]
fn a_layer_may_only_tighten() {
    assert_eq!(laid(COUNTY).unwrap()[0].layers.len(), 1);
    let looser = laid(&COUNTY.replace("is = \"15\"", "is = \"25\"")).unwrap_err();
    assert_eq!(
        looser,
        [
            "overlay pueblo-example: values.trigger: 25 from 2024-06-01 is looser than 20 of \
          us-federal-ods in force on 2024-06-01 for commercial; a layer may only tighten (or say \
          loosens = true with a reason)"
        ]
    );
    let marked = COUNTY.replace("is = \"15\"", "is = \"25\", loosens = true");
    let no_reason = laid(&marked).unwrap_err();
    assert_eq!(
        no_reason,
        ["overlay pueblo-example: values.trigger: row from 2024-06-01: loosens needs a reason"]
    );
    let reason = marked.replace(
        "loosens = true",
        "loosens = true, reason = \"permit (invented)\"",
    );
    assert!(laid(&reason).is_ok());
    // A later, stricter base row counts too: from 1995 the base was 35, from 2019 it is 20.
    let early = COUNTY
        .replace("2024-06-01", "2018-01-01")
        .replace("is = \"15\"", "is = \"30\"");
    let later = laid(&early).unwrap_err();
    assert!(
        later[0].contains(
            "30 from 2018-01-01 is looser than 20 of us-federal-ods in force on 2019-01-01"
        ),
        "{later:?}"
    );
    // Ended before that row, it is fine.
    let ended = early.replace(
        "rows = [",
        "rows = [{ from = \"2018-12-31\", for = [\"commercial\"], is = \"none\" },",
    );
    assert!(laid(&ended).is_ok(), "{:?}", laid(&ended));
}

#[test]
fn a_layer_names_a_base_its_values_and_a_reason() {
    let unknown = laid(&COUNTY.replace("[values.trigger]", "[values.triger]")).unwrap_err();
    assert!(
        unknown[0].starts_with(
            "overlay pueblo-example: values.triger: us-federal-ods has \
     no value named 'triger'; there are: "
        ),
        "{unknown:?}"
    );
    let base = laid(&COUNTY.replace("\"us-federal-ods\"", "\"us-federal\"")).unwrap_err();
    assert_eq!(
        base,
        ["overlay pueblo-example: overlays: no set named 'us-federal'; there are: us-federal-ods"]
    );
    let silent = COUNTY.replace("county ordinance 12, adopted 2024-04-02 (invented)", "");
    assert!(laid(&silent).unwrap_err()[0].contains("reason: may not be empty"));
    let banded = COUNTY.replace(
        "{ region = { is = [\"US-CO-101\"] } }",
        "{ band = { is = [\"commercial\"] } }",
    );
    assert!(laid(&banded).unwrap_err()[0].contains("a layer has no values of its own"));
}

/// The layer that the manual shows can be laid over the shipped set as it stands there.
#[test]
fn the_worked_edit_of_the_manual_works() {
    let manual = include_str!("../rules/README.md");
    let layer = manual
        .split("```toml\n")
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap();
    assert_eq!(laid(layer).unwrap()[0].layers[0].id, "pueblo-example");
}
