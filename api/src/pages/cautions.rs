//! Cautions that stand wherever refrigerant is handled.
//!
//! They warn and decide nothing: local codes and the licensed person at the unit do. Whether a
//! refrigerant burns or is poisonous comes from its safety group in the refrigerant table (ASHRAE
//! Standard 34); what the table does not know is treated as both.

use reports::refrigerant::{SafetyGroup, Table};

/// Where refrigerant is poured or drawn.
pub const PRESSURE: &str = "Refrigerant under pressure bursts weak parts, freezes skin and eyes, and \
                        takes the air to breathe. Follow local codes; this is work for licensed \
                        practice.";

/// Where a cylinder is filled.
pub const FILLING: &str = "The limit of a cylinder is by weight, for the named refrigerant, liquid \
                       only. Wrong refrigerant, oil or a wrong tare makes it unsafe. Weigh after \
                       disconnecting. Never fill a disposable or out-of-date cylinder.";

/// Where leaks are looked for.
pub const SEARCHING: &str = "Look for leaks with an instrument or soap, never with a flame. \
                             Refrigerant gathers low: ventilate pits and machine rooms before you \
                             go in, and leave when an alarm sounds.";

/// Where a circuit is opened.
pub const OPENING: &str = "Lock out and tag the power, recover the refrigerant and let pressure off \
                           before anything is cut, brazed or opened. Braze under flowing dry \
                           nitrogen through a regulator with relief, at almost no pressure.";

/// Where tightness is looked at after a repair.
pub const VERIFYING: &str = "Pressure for a test comes from dry nitrogen through a regulator with \
                             relief, never from oxygen or compressed air, and never above the \
                             lowest design pressure of the nameplates.";

/// Where readings are taken from what runs.
pub const RUNNING: &str = "Guards stay on, hands and hoses stay off fans and belts; terminals are \
                           live and the discharge line burns.";

/// Where valves are closed.
pub const ISOLATING: &str = "Lock and tag closed valves. Liquid shut in between two closed valves \
                             bursts the pipe when it warms: leave a way to a relief valve.";

/// Where something is taken out of operation.
pub const LOCKING_OUT: &str = "Lock out and tag the power, each person with their own lock, and test \
                               that it is dead. What stays charged stays under pressure.";

/// Where something is put back into operation.
pub const STARTING: &str = "A lock is taken off by the person who put it on. Valves open and guards \
                            on before the power returns; nobody stands at the fan.";

/// Where a recovery cylinder is filled.
pub const RECOVERY: &str = "Leave a fifth of a recovery cylinder empty: at most 80 % of its volume at \
                            77 °F (25 °C), for some refrigerants less. The room beside each \
                            cylinder is the lowest of the rules; it goes by weight.";

/// Cautions of a charge with a refrigerant.
pub fn of_charge(refrigerant: &str) -> Vec<String> {
    let mut lines = vec![PRESSURE.to_string()];
    lines.extend(of_class(refrigerant));
    lines
}

/// Cautions of a recovery of a refrigerant.
pub fn of_recovery(refrigerant: &str) -> Vec<String> {
    let mut lines = of_charge(refrigerant);
    lines.push(format!("{FILLING} {RECOVERY}"));
    lines
}

/// What the safety group of a refrigerant asks for; none for one that neither burns nor poisons.
pub fn of_class(refrigerant: &str) -> Option<String> {
    if refrigerant.is_empty() {
        return None;
    }
    let Some(group) = group(refrigerant) else {
        return Some(format!(
            "The safety class of {refrigerant} is not known here: treat it as flammable and toxic \
             until you know. Follow local codes; licensed practice only."
        ));
    };
    let burns = match group {
        SafetyGroup::A3 | SafetyGroup::B3 => Some("burns easily and explosively"),
        SafetyGroup::A2 | SafetyGroup::B2 => Some("burns"),
        SafetyGroup::A2L | SafetyGroup::B2L => Some("burns slowly"),
        SafetyGroup::A1 | SafetyGroup::B1 => None,
    };
    let poisons = group.is_toxic().then_some("is toxic");
    let says: Vec<&str> = burns.into_iter().chain(poisons).collect();
    if says.is_empty() {
        return None;
    }
    let mut line = format!(
        "{refrigerant}, class {}, {}.",
        group.word(),
        says.join(" and ")
    );
    if burns.is_some() {
        line.push_str(
            " No flame, no spark, no smoking; ventilate, ground the cylinder, and use recovery \
             machine, scale and pump made for flammable refrigerants.",
        );
    }
    if poisons.is_some() {
        line.push_str(" Wear breathing protection where codes ask for it.");
    }
    line.push_str(" Follow local codes; licensed practice only.");
    Some(line)
}

/// The safety group of a designation, where the table knows it.
pub fn group(refrigerant: &str) -> Option<SafetyGroup> {
    let row = Table::shipped().understood(refrigerant)?;
    row.safety.group
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Groups of ASHRAE Standard 34 (from memory): R-410A A1, R-454B A2L, R-152a A2, R-290 A3,
    /// R-123 B1, R-717 B2L.
    #[test]
    fn what_burns_or_poisons_is_said_where_it_is_handled() {
        assert_eq!(of_class("R-410A"), None);
        for (designation, word, says) in [
            ("R-454B", "A2L", "burns slowly"),
            ("R-152a", "A2", "burns."),
            ("R-290", "A3", "burns easily and explosively"),
            ("R-123", "B1", "is toxic"),
            ("R-717", "B2L", "burns slowly and is toxic"),
        ] {
            let line = of_class(designation).unwrap();
            assert!(line.contains(word) && line.contains(says), "{line}");
            assert!(
                line.contains("local codes") && line.contains("licensed"),
                "{line}"
            );
        }
        let unknown = of_class("unknown").unwrap();
        assert!(
            unknown.contains("treat it as flammable and toxic"),
            "{unknown}"
        );
    }

    #[test]
    fn every_posting_has_its_caution() {
        assert_eq!(of_charge("R-410A").len(), 1);
        assert_eq!(of_charge("R-454B").len(), 2);
        let recovery = of_recovery("R-290");
        assert_eq!(recovery.len(), 3);
        assert!(recovery[2].contains("out-of-date cylinder"));
        assert!(recovery[2].contains("80 %"));
    }
}
