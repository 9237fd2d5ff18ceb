//! How much a cylinder may hold, by the rule that is lowest for what is in it.
//!
//! The rules and their sources are rows of a table in `reports`; a largest mass that is marked on the
//! cylinder is one of them. Content that is unknown, mixed, or of a refrigerant without densities
//! takes the lowest limit of everything. All of it is exact: no float stops anybody.

// A float would stop, or fail to stop, somebody who is pouring.
#![deny(clippy::float_arithmetic)]

use crate::store::book::Brief;
use reports::mass::{Mass, lb_oz_text};
use reports::number::Decimal;
use reports::physics::{
    Content, FillDensities, FillLimit, FillRequest, FillRules, Quantity, RuleLimit, WaterCapacity,
    WaterUnit, fill_limit,
};
use reports::refrigerant::Table;

/// The limit of a cylinder with its rules; `None`: neither its water capacity nor a marking is known.
///
/// `codes`: what is in it and what is to go in. `filled_by_maker`: bought full; then the marking of
/// its maker counts alone, where there is one.
pub fn limit_of(
    brief: &Brief,
    table: &Table,
    codes: &[u16],
    filled_by_maker: bool,
) -> Option<FillLimit> {
    let marked = || brief.capacity.map(only_marked);
    let Some(water) = brief.water_capacity.and_then(water_capacity) else {
        return marked();
    };
    if filled_by_maker && brief.capacity.is_some() {
        return marked();
    }
    let limit = |content| {
        let request = FillRequest {
            content,
            water_capacity: water,
            // A capacity below the tare is asked about where both are typed, not while pouring.
            tare: None,
            water_capacity_confirmed: true,
            marking: brief.capacity,
            shop_rules: false,
        };
        fill_limit(FillRules::shipped(), FillDensities::shipped(), &request).ok()
    };
    limit(content_of(table, codes)).or_else(|| limit(Content::Unknown))
}

fn is_unknown(name: &str) -> bool {
    crate::actions::physics::content_named(name) == Content::Unknown
}

/// What is in it: one refrigerant, those that met in it, or unknown.
pub fn content_of(table: &Table, codes: &[u16]) -> Content {
    let mut names: Vec<&str> = codes
        .iter()
        .filter_map(|code| table.designation(*code))
        .collect();
    names.sort_unstable();
    names.dedup();
    match names[..] {
        [name] => crate::actions::physics::content_named(name),
        [] => Content::Unknown,
        _ if names.iter().any(|name| is_unknown(name)) => Content::Unknown,
        // The entries say what met there, and nothing else did.
        _ => Content::AnyOf(names.into_iter().map(str::to_string).collect()),
    }
}

/// A stored water capacity, which is a mass of water, as the rules take it.
pub fn water_capacity(water: Mass) -> Option<WaterCapacity> {
    // Grams have eleven decimals at most; a thousandth of them has fourteen.
    let (whole, part) = (water.steps() / Mass::GRAM, water.steps() % Mass::GRAM);
    let text = format!("{}.{:03}{part:011}", whole / 1_000, whole % 1_000);
    let value = Decimal::parse(text.trim_end_matches('0').trim_end_matches('.'))?;
    let unit = WaterUnit::Kilogram;
    Some(Quantity { value, unit })
}

fn only_marked(marking: Mass) -> FillLimit {
    let rule = RuleLimit {
        rule_id: "MARKING".to_string(),
        refrigerant: None,
        limit: marking,
        text: "the largest net mass marked on the cylinder".to_string(),
        source: "the marking of the cylinder".to_string(),
        read_at_source: true,
        density_source: None,
    };
    FillLimit {
        limit: marking,
        rule_id: rule.rule_id.clone(),
        rules: vec![rule],
        notes: vec!["The water capacity is not known, so only its marking limits it.".to_string()],
        caution: reports::physics::FILL_CAUTION,
    }
}

/// Pounds and ounces of a room or limit, cut to a tenth of an ounce: never more than there is.
pub fn cut_text(steps: i128) -> String {
    let tenth = i128::from(Mass::OUNCE / 10);
    lb_oz_text(steps.div_euclid(tenth) * tenth)
}

/// The rule a limit is, with its source, as a stop names it: `80 % of ... (GK80_25C; source)`.
pub fn rule_text(limit: &FillLimit) -> String {
    let Some(rule) = limit.rules.first() else {
        return limit.rule_id.clone();
    };
    let of = match &rule.refrigerant {
        Some(name) => format!(", {name}"),
        None => String::new(),
    };
    format!("{} ({}{of}; {})", rule.text, rule.rule_id, rule.source)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn brief(water: &str, capacity: Option<&str>) -> Brief {
        let mass = |text: &str| Mass::from_grams_text(text).unwrap();
        Brief {
            water_capacity: Some(mass(water)),
            capacity: capacity.map(mass),
            ..Brief::default()
        }
    }

    fn grams(brief: &Brief, names: &[&str], maker: bool) -> (String, String) {
        let table = Table::shipped();
        let code = |name: &&str| table.code(name).unwrap();
        let codes: Vec<u16> = names.iter().map(code).collect();
        let limit = limit_of(brief, table, &codes, maker).unwrap();
        (limit.rule_id, limit.limit.to_string())
    }

    /// 47.7 lb of water are 21 636.356049 g and, at 27.737 cubic inches a pound (49 CFR),
    /// 47.7 x 27.737 x 0.016387064 = 21.68099... L. R-410A: 0.8 x 21 636.356049 = 17 309.0848392 g,
    /// lower than 0.8 x 21.681 x 1.0588 (density of the committed table). R-32 has 961.00 g/L at
    /// 25 degC, so 0.8 x 21.68099 x 961.00 = 16 668.3 g, and four fifths of the water would overfill.
    #[test]
    fn a_light_liquid_is_limited_below_four_fifths_of_the_water() {
        let cylinder = brief("21636.356049", None);
        let (rule, limit) = grams(&cylinder, &["R-410A"], false);
        assert_eq!(
            (rule.as_str(), limit.as_str()),
            ("WATER80", "17309.0848392")
        );
        let (rule, limit) = grams(&cylinder, &["R-32"], false);
        assert_eq!(rule, "GK80_25C");
        assert!(limit.starts_with("16668."), "{limit}");
    }

    /// The lightest liquid of the table is R-290, 492.36 g/L at 25 degC (CoolProp 8.0.0): 0.80 of it in
    /// 21.68099 L are 8 539.9 g, lower than the 0.42 kg/L for what nobody knows (9 106.0 g, packing
    /// instruction P200, from memory). Of two that met, the lower counts, here that of R-32.
    #[test]
    fn what_is_unknown_or_mixed_takes_the_lowest() {
        let cylinder = brief("21636.356049", None);
        let unknown = grams(&cylinder, &["unknown"], false);
        assert!(unknown.1.starts_with("8539."), "{unknown:?}");
        assert_eq!(grams(&cylinder, &["R-22", "unknown"], false), unknown);
        let met = grams(&cylinder, &["R-32", "R-410A"], false);
        assert!(met.1.starts_with("16668."), "{met:?}");
    }

    #[test]
    fn the_lowest_of_marking_and_rules_counts_but_the_maker_fills_to_his_marking() {
        let cylinder = brief("21636.356049", Some("10000"));
        assert_eq!(grams(&cylinder, &["R-410A"], false).0, "MARKING");
        let cylinder = brief("11884", Some("11339.80925"));
        assert_eq!(grams(&cylinder, &["R-410A"], false).0, "WATER80");
        assert_eq!(grams(&cylinder, &["R-410A"], true).0, "MARKING");
        assert!(limit_of(&Brief::default(), Table::shipped(), &[1], false).is_none());
    }
}
