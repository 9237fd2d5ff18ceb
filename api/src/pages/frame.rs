//! What every office page shows around its content: whose book, who reads, the index, the seal.

use super::figures;
use super::way::Visit;
use super::words;
use crate::actions::ActionError;
use crate::actions::permit::{self, Deed, Reach};
use crate::actions::show::Organisation;
use crate::actions::show::things::{self, Sort};
use crate::actions::show::{log, overview};
use crate::http::asker::Asker;
use crate::http::{Problem, State};
use crate::ledger::actor::Role;
use crate::ledger::checkpoint::{Checkpoint, Note};
use reports::day::Day;

/// The running head, the index and the foot of a page.
#[derive(Clone, Debug, Default)]
pub struct Frame {
    /// Whose book.
    pub organisation: String,
    /// Who reads, and in which roles.
    pub who: String,
    /// Goes into every form of the page and must come back.
    pub form: String,
    /// The part of the book that the page belongs to.
    pub part: Part,
    /// What the page was worked out from.
    pub worked_out: String,
    /// The newest seal.
    pub seal: Option<Seal>,
    /// The roles of who reads.
    pub roles: Vec<Role>,
}

/// Parts of the book, in the order of the index.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Part {
    /// What is over a limit and what is to be looked at.
    #[default]
    Today,
    /// What is owed.
    Duties,
    /// Appliances.
    Appliances,
    /// Cylinders and tools.
    Cylinders,
    /// Yearly sheets.
    Year,
    /// Rule sets, and trying a change of them.
    Rules,
    /// Entries and how to check them.
    Book,
    /// Who may sign in, and with what.
    People,
    /// The reader's own sign-in, which stands in no index.
    Own,
}

/// An entry of the index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IndexWord {
    /// The word.
    pub word: &'static str,
    /// Where it leads.
    pub href: &'static str,
    /// Is this the part that is shown?
    pub current: bool,
}

impl Frame {
    /// The index: the parts that the reader may see.
    pub fn parts(&self) -> Vec<IndexWord> {
        let all = [
            (Part::Today, "Today", "/today", Deed::ReadBook),
            (Part::Duties, "Duties", "/duties", Deed::ReadFollowUps),
            (
                Part::Appliances,
                "Appliances",
                "/appliances",
                Deed::ReadBook,
            ),
            (Part::Cylinders, "Cylinders", "/cylinders", Deed::ReadBook),
            (Part::Year, "The year", "/year", Deed::Report),
            (Part::Rules, "Rules", "/rules", Deed::PreviewRules),
            (Part::Book, "The book", "/book", Deed::ReadBook),
            (Part::People, "People", "/people", Deed::ReadPeople),
        ];
        // Colleagues see names of each other, and no page of everybody.
        let whole = |role: &Role| permit::reach(*role, Deed::ReadPeople) == Reach::Whole;
        let shown = all.into_iter().filter(|(part, .., deed)| match part {
            Part::People => self.roles.iter().any(whole),
            _ => self.may(*deed),
        });
        shown
            .map(|(part, word, href, _)| IndexWord {
                word,
                href,
                current: part == self.part,
            })
            .collect()
    }

    /// Does the reader answer for the book?
    pub fn manages(&self) -> bool {
        self.roles.contains(&Role::ComplianceManager)
    }

    /// May the reader do this in one of their roles?
    pub fn may(&self, deed: Deed) -> bool {
        self.roles.iter().any(|role| permit::may(*role, deed))
    }

    /// `Osric Penhale, compliance manager`.
    pub fn person(name: &str, roles: &[Role]) -> String {
        let roles: Vec<&str> = roles.iter().map(|role| words::role(*role)).collect();
        match name {
            "" => roles.join(", "),
            name => format!("{name}, {}", roles.join(", ")),
        }
    }
}

/// A signed checkpoint, as its print is shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seal {
    /// How many entries it covers.
    pub size: String,
    /// Which.
    pub covers: String,
    /// The root of their tree, hexadecimal.
    pub root: String,
    /// Its beginning.
    pub root_short: String,
    /// The book it is about.
    pub origin: String,
    /// Names and prints of the keys that signed it.
    pub signed_by: String,
    /// The note as it is signed.
    pub note: String,
    /// The tally of the root.
    pub tally: String,
}

impl Seal {
    /// The seal of a signed note; `None`: it is no checkpoint.
    pub fn of(text: &str) -> Option<Seal> {
        let note = Note::parse(text).ok()?;
        let checkpoint = Checkpoint::from_text(&note.text).ok()?;
        let signed: Vec<String> = (note.signatures.iter())
            .map(|signature| {
                let print = figures::print(&signature.key_id, 8);
                format!("key {print} of {}", signature.name)
            })
            .collect();
        let covers = match checkpoint.size {
            0 => "nothing yet".to_string(),
            1 => "entry no. 0".to_string(),
            size => format!("entries no. 0 to {}", figures::number(size - 1)),
        };
        Some(Seal {
            size: figures::number(checkpoint.size),
            covers,
            root: figures::print(&checkpoint.root, 64),
            root_short: figures::print(&checkpoint.root, 12),
            origin: checkpoint.origin,
            signed_by: signed.join("; "),
            note: text.to_string(),
            tally: figures::tally(&checkpoint.root),
        })
    }
}

/// The name of a person, or their tag.
fn name_of(state: &State, of: &Organisation, id: &str) -> Result<String, ActionError> {
    let person = state
        .desk
        .read(|db| things::one(db, of, Sort::Person, id))?;
    let name = person
        .facts
        .get("name")
        .and_then(|name| name.last()?.is.as_str());
    Ok(name.unwrap_or(&person.tag).to_string())
}

/// Reads what stands around every page, and what day it is. It blocks: for a thread that may wait.
pub struct Around {
    by: Asker,
    token: String,
    now: i64,
}

impl Around {
    /// Around the page that is asked for.
    pub fn of(visit: &Visit) -> Result<Around, Problem> {
        Ok(Around {
            by: visit.by()?.clone(),
            token: visit.token.clone(),
            now: visit.asked.now,
        })
    }

    /// The frame of a part, today at the organisation, and the newest entry.
    pub fn read(self, state: &State, part: Part) -> Result<(Frame, Day, u64), ActionError> {
        let of = &self.by.signed_in.of;
        let (today, newest) = state.desk.read(|db| overview::today(db, of, self.now))?;
        let name = match self.by.signed_in.person {
            Some(person) => name_of(state, of, &person.to_string())?,
            None => String::new(),
        };
        let note = state
            .desk
            .signer()
            .newest(of.org)
            .map(|note| note.to_string());
        let note = match note {
            Some(note) => Some(note),
            None => state.desk.read(|db| log::checkpoint(db, of)).ok(),
        };
        let frame = Frame {
            organisation: of.name.clone(),
            who: Frame::person(&name, &self.by.signed_in.roles),
            form: self.token,
            part,
            worked_out: format!(
                "Worked out from entries no. 0 to {}, for {}, by the rule sets in force.",
                figures::number(newest),
                figures::weekday(today)
            ),
            seal: note.as_deref().and_then(Seal::of),
            roles: self.by.signed_in.roles.clone(),
        };
        Ok((frame, today, newest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::sample::SampleBook;

    #[test]
    fn the_index_shows_what_the_reader_may_see() {
        let words = |roles: &[Role]| -> Vec<&'static str> {
            let frame = Frame {
                roles: roles.to_vec(),
                ..Frame::default()
            };
            frame.parts().iter().map(|part| part.word).collect()
        };
        let all = [
            "Today",
            "Duties",
            "Appliances",
            "Cylinders",
            "The year",
            "Rules",
            "The book",
            "People",
        ];
        assert_eq!(words(&[Role::ComplianceManager]), all);
        assert_eq!(words(&[Role::Auditor]), all);
        assert_eq!(
            words(&[Role::Technician]),
            ["Today", "Duties", "Appliances", "Cylinders", "The book"]
        );
        assert_eq!(words(&[Role::Administrator]), ["People"]);
    }

    #[test]
    fn a_seal_says_what_its_note_says() {
        let mut book = SampleBook::new();
        let note = book.sign().to_string();
        let seal = Seal::of(&note).unwrap();
        let lines: Vec<&str> = note.lines().collect();
        assert_eq!(seal.origin, lines[0]);
        assert_eq!(seal.size, lines[1]);
        assert_eq!(seal.root.len(), 64);
        assert!(seal.root.starts_with(&seal.root_short));
        assert_eq!(seal.note, note);
        assert_eq!(Seal::of("no note"), None);
    }
}
