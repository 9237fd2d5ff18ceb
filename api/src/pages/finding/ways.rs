//! What settles a finding: what is to be done first, and the reasons that fit its kind.
//!
//! The reasons are the words of `settle` (`actions::settle::REASONS`); here each is said as it reads
//! for this finding. A kind without words of its own takes the general ones.

/// What can be done about a kind of finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ways {
    /// What was, or would have been, asked.
    pub asks: &'static str,
    /// What is to be done before it is settled.
    pub first: &'static str,
    /// The reasons that fit: the word and how it reads.
    pub reasons: &'static [(&'static str, &'static str)],
}

const AS_STATED: &[(&str, &str)] = &[
    ("accepted", "It is so: the entry stands as it is."),
    ("corrected", "It was not so: the entry has been corrected."),
    (
        "checked",
        "Looked at on the spot or in the papers; in order.",
    ),
    ("other", "Something else; the words below say what."),
];

const EMPTIED: &[(&str, &str)] = &[
    (
        "checked",
        "Emptied, or sent on to reclaim or destruction; taken out of use.",
    ),
    (
        "corrected",
        "It was another cylinder: the entry has been corrected.",
    ),
    ("other", "Something else; the words below say what."),
];

const ANALYSED: &[(&str, &str)] = &[
    (
        "analysed",
        "Analysed; the book names what is in it and the label says so.",
    ),
    (
        "corrected",
        "It was another cylinder or refrigerant: the entry has been corrected.",
    ),
    (
        "checked",
        "Looked at: it is what the book says, and the label is on.",
    ),
    ("other", "Something else; the words below say what."),
];

const WEIGHED: &[(&str, &str)] = &[
    (
        "counted",
        "Weighed again; book and scale agree, or the difference is booked.",
    ),
    (
        "corrected",
        "The entry or the tare was wrong and has been corrected.",
    ),
    ("accepted", "It is so: the entry stands as it is."),
    ("other", "Something else; the words below say what."),
];

const TWINS: &[(&str, &str)] = &[
    ("accepted", "Two jobs: both entries stand."),
    (
        "corrected",
        "The same job twice: one of the two has been taken back.",
    ),
    ("other", "Something else; the words below say what."),
];

const STATED: &[(&str, &str)] = &[
    (
        "accepted",
        "Our weight stands; the receiver agrees, or has been told.",
    ),
    (
        "corrected",
        "The shipment or the statement was wrong and has been corrected.",
    ),
    (
        "checked",
        "Looked at in the papers; what differs stays as it is.",
    ),
    ("other", "Something else; the words below say what."),
];

const COMPLETED: &[(&str, &str)] = &[
    ("checked", "Completed, or nothing was missing."),
    ("other", "Something else; the words below say what."),
];

/// What is asked, what comes first, and the reasons.
type Said = (
    &'static str,
    &'static str,
    &'static [(&'static str, &'static str)],
);

/// The ways of a code.
pub fn of(code: &str) -> Ways {
    let general = ("Is it so as stated?", "", AS_STATED);
    let said = (of_content(code).or_else(|| of_cylinder(code))).or_else(|| of_entry(code));
    let (asks, first, reasons) = said.unwrap_or(general);
    Ways {
        asks,
        first,
        reasons,
    }
}

/// Findings about a cylinder and what is in it.
fn of_cylinder(code: &str) -> Option<Said> {
    Some(match code {
        "mixing" => (
            "The cylinder held another refrigerant. May it go in?",
            "What is in the cylinder is a mixture now. It goes to reclaim or destruction only; \
             name it in the book as a mixture.",
            ANALYSED,
        ),
        "over_full" => (
            "The cylinder would hold more than its limit. May it go in?",
            "Weigh the cylinder. If it is above its limit, take out what is too much before \
             anybody moves or warms it.",
            WEIGHED,
        ),
        "expired" | "condemned" | "disposable" => (
            "The cylinder may not be filled. May it go in?",
            "Empty the cylinder, or send it on as it is, and take it out of use.",
            EMPTIED,
        ),
        "other_owner" => (
            "The refrigerant was recovered from another owner's appliance. May it go in?",
            "Speak with both owners; recovered refrigerant goes back only to whom it came from, \
             unless it was reclaimed.",
            AS_STATED,
        ),
        "quarantined" => (
            "The cylinder is under quarantine. May something be taken from it?",
            "Settle first why the cylinder is under quarantine.",
            AS_STATED,
        ),
        "scale_tare" | "scale_exchange" | "scale_unposted" => (
            "Scale and book differ. Which is right?",
            "Weigh the cylinder once more, after disconnecting, and look at its label and tare.",
            WEIGHED,
        ),
        "count_differs" => (
            "The count is far from the book. Are cylinder, tare and unit right?",
            "Weigh the cylinder once more, and look for what was taken from it and not posted.",
            WEIGHED,
        ),
        "over_content" | "balance_below_zero" => (
            "The book holds less than was taken. Is the mass right?",
            "Weigh what is left, or find the entry that is missing.",
            WEIGHED,
        ),
        _ => return None,
    })
}

/// Findings about what is in a cylinder: its name, its condition, whose it is.
fn of_content(code: &str) -> Option<Said> {
    Some(match code {
        "content_cleared" => (
            "The content of the cylinder is said to be in a better condition. Was it analysed?",
            "Look at the sheet of the laboratory or the identifier. Without one, have it analysed, \
             and correct the entry by what is found.",
            ANALYSED,
        ),
        "mixed_content" => (
            "What is in the cylinder is mixed. May it be taken from?",
            "See where it went: what it met there is mixed, too, and goes to reclaim or destruction. \
             An appliance is recovered and charged anew.",
            AS_STATED,
        ),
        "several_owners" => (
            "The cylinder holds another owner's refrigerant. May it go in?",
            "Send the content to reclaim or destruction; each owner's disposal is told by it.",
            AS_STATED,
        ),
        "recovered_into_supply" => (
            "The cylinder is for new refrigerant. May recovered refrigerant go in?",
            "Mark the cylinder as recovered and change its use in the register, or send its content \
             to reclaim.",
            AS_STATED,
        ),
        "content_doubtful" => (
            "Is it known what is in the cylinder?",
            "Find out what is in it with a refrigerant identifier or a laboratory (AHRI 700 \
             method), name it in the book, put a label on.",
            ANALYSED,
        ),
        "content_renamed" => (
            "The content of the cylinder gets another name. Was it analysed?",
            "Look at the sheet of the laboratory or the identifier. Without one, have it analysed, \
             and name it by what is found.",
            ANALYSED,
        ),
        _ => return None,
    })
}

/// Findings about an entry or an appliance.
fn of_entry(code: &str) -> Option<Said> {
    Some(match code {
        "look_alike" | "same_mass" => (
            "It looks like an entry that is booked already. Is it the same job?",
            "Compare both entries below. If it is one job, take one of them back.",
            TWINS,
        ),
        "tag_looks_alike" | "tag_of_several_alphabets" => (
            "The tag can be taken for another one. Is it written so on the label?",
            "Read the label. Where it is another tag, change it in the register.",
            AS_STATED,
        ),
        "statement_disputed" => (
            "The weights of the statement are disputed. Which weight holds?",
            "Ask for the weighing tickets of both scales. Once you agree, enter the statement again \
             and accept it. Where its shipment went elsewhere or was taken back, take the statement \
             back on the page Shipments. Either settles this by itself.",
            STATED,
        ),
        "statement_open" => (
            "What an accepted statement counted on was corrected. Do book and statement still agree?",
            "Compare the weights on the page Shipments, and enter the statement again if they differ. Where \
             its shipment went elsewhere or was taken back, take the statement back there. Either \
             settles this by itself.",
            STATED,
        ),
        "heel_left" => (
            "By the book something is still in it. Was the heel recovered?",
            "Weigh the cylinder; book the transfer or the count.",
            WEIGHED,
        ),
        "registered_on_site" => (
            "",
            "Complete what the office knows: the full charge and how it is known, the owner, the \
             day it was installed, its serial number.",
            COMPLETED,
        ),
        "test_not_decided" => (
            "Does the test decide whether gas was lost?",
            "Do what the open points say, then correct the test with what was read, or repeat it.",
            AS_STATED,
        ),
        "rate_jump" => (
            "The leak rate is more than three times the last. Is the mass right?",
            "Look at the readings of the scale and at the charge before.",
            AS_STATED,
        ),
        "wrong_refrigerant_for_appliance" => (
            "The appliance is registered with another refrigerant. Did this go in?",
            "Look at the nameplate. If the appliance was changed over, its retrofit is missing in \
             the book.",
            AS_STATED,
        ),
        "over_full_charge" => (
            "More than the full charge was stated. Is the mass right?",
            "Look at the readings and at the full charge on the nameplate.",
            AS_STATED,
        ),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::actions::decide::known_codes;
    use crate::actions::settle::REASONS;

    #[test]
    fn every_reason_offered_is_one_that_settle_takes() {
        let stops_and_questions = known_codes().into_iter().map(|(code, _)| code);
        for code in
            stops_and_questions.chain(crate::pages::findings::KINDS.iter().map(|kind| kind.0))
        {
            let ways = of(code);
            assert!(ways.reasons.len() >= 2, "{code}");
            for (word, says) in ways.reasons {
                assert!(REASONS.contains(word), "{word} of {code}");
                assert!(says.ends_with('.'), "{says}");
            }
        }
    }
}
