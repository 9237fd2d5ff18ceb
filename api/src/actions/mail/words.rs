//! The words of a message: what is late first, then week by week, then what has no day.
//!
//! Plain text, so that every mail program shows it and nothing in it can be loaded or pressed by
//! mistake. Tags and names are what people typed: letters that nobody sees, marks that turn the
//! writing and ends of lines are taken out, so that a name begins no line and no header.

use crate::actions::post::is_unseen;
use crate::actions::show::duties::{Row, Word};
use reports::day::Day;

/// Steps that are written out in one message; the page shows the others.
const MOST: usize = 200;
/// Letters of a subject.
const LONGEST_SUBJECT: usize = 120;

/// What all messages of a person say in the same way.
pub struct Says<'a> {
    /// Whose book.
    pub organisation: &'a str,
    /// Of the whole organisation, not only what is assigned to the person.
    pub everything: bool,
    /// Names of sites stand in it.
    pub names: bool,
    /// Where the service is reached, without a slash at its end.
    pub base: &'a str,
    /// Today at the organisation.
    pub today: Day,
}

/// The Monday of the week of a day.
pub fn monday(day: Day) -> Day {
    // 1970-01-01 was a Thursday, three days after a Monday.
    day.plus(-(day.count() + 3).rem_euclid(7))
}

/// What people typed as one line of plain text.
pub fn plain(text: &str) -> String {
    let seen = text.chars().filter(|letter| !is_unseen(*letter));
    let text: String = seen
        .map(|letter| if letter.is_control() { ' ' } else { letter })
        .collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn subject(text: &str) -> String {
    let text = plain(text);
    match text.char_indices().nth(LONGEST_SUBJECT) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text,
    }
}

impl Says<'_> {
    /// Subject and text of a list of everything that is owed, in the order of the page.
    pub fn digest(&self, rows: &[&Row]) -> (String, String) {
        let late = rows.iter().filter(|row| row.word == Word::Late).count();
        let counts = match (late, rows.len() - late) {
            (0, 0) if self.everything => "nothing is owed".to_string(),
            (0, 0) => "nothing is assigned to you".to_string(),
            (0, open) => format!("{open} to come"),
            (late, 0) => format!("{late} late"),
            (late, open) => format!("{late} late, {open} to come"),
        };
        // Nothing of one's own says nothing of the whole: it is named which of them this is.
        let (title, what) = match self.everything {
            true => ("Duties of", "What the whole organisation owes"),
            false => ("Your duties at", "What is assigned to you"),
        };
        let subject = subject(&format!("{title} {}: {counts}", self.organisation));
        let whose = plain(self.organisation);
        let mut text = format!("{what}, {whose}, {}: {counts}.\n", self.today);
        self.weeks(rows, &mut text);
        text.push_str(&format!("\nAll of it: {}/duties\n", self.base));
        (subject, text)
    }

    /// Subject and text of the reminders of a day.
    pub fn reminders(&self, rows: &[&Row]) -> (String, String) {
        let late = rows.iter().filter(|row| row.word == Word::Late).count();
        let words = match rows {
            [one] if late == 1 => format!("Late: {}: {}", self.about(one), one.means),
            [one] => {
                let due = one.due.unwrap_or(one.since);
                format!("Due {due}: {}: {}", self.about(one), one.means)
            }
            _ if late == 0 => format!("{} duties due soon, {}", rows.len(), self.organisation),
            _ => format!(
                "{late} late, {} due soon, {}",
                rows.len() - late,
                self.organisation
            ),
        };
        let whose = plain(self.organisation);
        let mut text = format!("Reminder of {}, {whose}.\n", self.today);
        self.weeks(rows, &mut text);
        text.push_str(&format!("\nAll that is owed: {}/duties\n", self.base));
        (subject(&words), text)
    }

    /// The steps under their headings; they come in the order of the page: late, by day, without one.
    fn weeks(&self, rows: &[&Row], text: &mut String) {
        let mut heading = String::new();
        for row in rows.iter().take(MOST) {
            let new = self.heading(row);
            if new != heading {
                text.push_str(&format!("\n{new}\n"));
                heading = new;
            }
            self.step(row, text);
        }
        if let Some(more) = rows.len().checked_sub(MOST).filter(|more| *more > 0) {
            text.push_str(&format!("\nAnd {more} more.\n"));
        }
    }

    fn heading(&self, row: &Row) -> String {
        let Some(due) = row.due else {
            return match row.word {
                Word::Late => "LATE".to_string(),
                _ => "WITHOUT A DAY".to_string(),
            };
        };
        let (week, this) = (monday(due), monday(self.today));
        match week.days_since(this) {
            _ if row.word == Word::Late => "LATE".to_string(),
            ..=0 => format!("THIS WEEK, TO {}", this.plus(6)),
            7 => format!("NEXT WEEK, FROM {week}"),
            _ => format!("WEEK FROM {week}"),
        }
    }

    fn step(&self, row: &Row, text: &mut String) {
        let day = row.due.map_or("no day".to_string(), |due| due.to_string());
        let (about, means, clause) = (self.about(row), plain(&row.means), plain(&row.cites()));
        let link = match row.appliance {
            Some(id) => format!("/appliances/{id}"),
            None => "/duties".to_string(),
        };
        let (since, base) = (row.since, self.base);
        text.push_str(&format!(
            "\n{day}  {about}: {means}\n  {clause}. Owed since {since}.\n  {base}{link}\n"
        ));
    }

    /// What it is about: the tag, and the site where names are asked for.
    fn about(&self, row: &Row) -> String {
        let tag = match row.appliance {
            Some(_) => plain(&row.tag),
            None => "The whole organisation".to_string(),
        };
        match self.names && !row.site_tag.is_empty() {
            true => format!("{tag}, {}", plain(&row.site_tag)),
            false => tag,
        }
    }
}
