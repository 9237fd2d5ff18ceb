//! What a preview comes to, in sentences for the page and the command.

use super::Preview;

impl Preview {
    /// The sentences in one line.
    pub fn summary(&self) -> String {
        self.sentences().join(" ")
    }

    /// How much would change, what is re-worked, who would have crossed, from what it was worked
    /// out.
    pub fn sentences(&self) -> Vec<String> {
        let mut told = vec![self.how_much()];
        if self.is_past() {
            told.push(self.of_the_past());
        }
        told.extend(self.nowhere.clone());
        if let Some(as_if) = &self.as_if {
            told.push(format!(
                "The day is still to come, so nothing that has happened is judged by it. Had it \
                 begun on {}, {} would have crossed a limit.",
                as_if.from,
                counted(as_if.appliances, "appliance", "appliances")
            ));
        }
        told.push(format!(
            "As of entry no. {}; nothing was booked.",
            self.as_of
        ));
        told
    }

    /// How much an adoption from a past day judges otherwise.
    pub fn re_worked(&self) -> String {
        format!("{} {}", self.how_much(), self.of_the_past())
    }

    fn of_the_past(&self) -> String {
        format!(
            "The day is past: what was judged from {} on is worked out again by it, and what was \
             given before stays in the book as it was given.",
            self.since
        )
    }

    fn how_much(&self) -> String {
        let (what, since, counts) = (&self.what, self.since, &self.counts);
        if counts.appliances == 0 {
            return format!(
                "With {what} from {since} on, no appliance of {} would be judged otherwise.",
                self.appliances
            );
        }
        format!(
            "With {what} from {since} on, {} of {} would be judged otherwise: {} passed, {} no \
             longer; {}, {} moved, {} vanished.",
            counted(counts.appliances, "appliance", "appliances"),
            self.appliances,
            counted(counts.passed, "limit", "limits"),
            counts.no_longer,
            counted(counts.appear, "duty appears", "duties appear"),
            counts.moved,
            counts.vanish
        )
    }
}

/// A count with words of which more than the noun changes.
fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
