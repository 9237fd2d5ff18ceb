//! What is asked before a statement is taken: a difference that two scales do not make, another name than
//! was shipped, a weight in another unit, a shipment whose statement is accepted already.

use super::shipped::Shipped;
use crate::actions::judge::as_stated;
use crate::actions::refusal::Question;
use crate::ledger::entry::Stated;
use crate::store::StoreError;
use crate::store::tx::Tx;
use reports::mass::{Mass, lb_oz_text};
use reports::number::{Fraction, shown_beside};
use reports::shipment::{other_unit, tolerance};

/// One refrigerant, in steps.
struct Compared {
    name: String,
    own: i128,
    book: i128,
    stated: i128,
    residue: i128,
    allowed: i128,
}

impl Compared {
    /// What nobody explains: neither the residue nor, where it was accepted before, what is booked.
    fn open(&self) -> i128 {
        self.stated + self.residue - self.book
    }

    fn is_far(&self) -> bool {
        self.open().abs() > self.allowed
    }
}

/// All that is asked, once each.
pub(super) fn questions(
    tx: &Tx<'_>,
    lines: &[(u16, Stated<'static>)],
    shipped: &Shipped,
    accepted: bool,
) -> Result<Vec<Question>, StoreError> {
    let compared: Vec<Compared> = (lines.iter())
        .map(|(code, line)| compared(tx, *code, line, shipped))
        .collect();
    let mut asked = Vec::new();
    asked.extend(unit(&compared));
    asked.extend(again(shipped));
    if accepted {
        asked.extend(named_otherwise(&compared));
        asked.extend(far(&compared));
    }
    Ok(asked)
}

fn compared(tx: &Tx<'_>, code: u16, line: &Stated<'_>, shipped: &Shipped) -> Compared {
    let steps = |mass: Mass| i128::from(mass.steps());
    let own = shipped.own.get(&code).copied().unwrap_or(0);
    let of_it = shipped.steps.iter().filter(|(known, _)| *known == code);
    Compared {
        name: tx.table.designation(code).unwrap_or_default().to_string(),
        own,
        book: shipped.book.get(&code).copied().unwrap_or(0),
        stated: steps(line.g),
        residue: line.residue.as_ref().map_or(0, |residue| steps(residue.g)),
        allowed: tolerance(own, of_it.map(|(_, step)| *step)),
    }
}

fn unit(compared: &[Compared]) -> Option<Question> {
    let slip = |it: &&Compared| it.is_far() && other_unit(it.own, it.stated);
    let slips: Vec<String> = (compared.iter().filter(slip))
        .map(|it| {
            format!(
                "{} was sent of {}, and {} is stated: it looks like the same weight in another unit.",
                lb_oz_text(it.own),
                it.name,
                lb_oz_text(it.stated)
            )
        })
        .collect();
    let books = "the weight as stated";
    (!slips.is_empty()).then(|| as_stated("statement_other_unit", slips.join(" "), books))
}

fn again(shipped: &Shipped) -> Option<Question> {
    let last = shipped.accepted.last()?;
    let text = format!(
        "A statement about these shipments is accepted already: no. {last}. Is this another one, which \
         holds instead?"
    );
    let books = "what this statement changes of that one";
    Some(as_stated("statement_again", text, books))
}

fn named_otherwise(compared: &[Compared]) -> Option<Question> {
    let other = |it: &&Compared| it.own == 0 && it.stated + it.residue > 0;
    let names: Vec<&str> = (compared.iter().filter(other))
        .map(|it| it.name.as_str())
        .collect();
    if names.is_empty() {
        return None;
    }
    let sent = compared.iter().filter(|it| it.own != 0);
    let sent: Vec<&str> = sent.map(|it| it.name.as_str()).collect();
    let text = format!(
        "{} is stated, and {} was sent. Has the receiver analysed it, and are these the shipments?",
        names.join(", "),
        sent.join(", ")
    );
    let books = "the change of name, and what then differs as unexplained";
    Some(as_stated("statement_other_refrigerant", text, books))
}

fn far(compared: &[Compared]) -> Option<Question> {
    // What was sent under no such name has been asked about already.
    let far = compared.iter().filter(|it| it.own != 0 && it.is_far());
    let texts: Vec<String> = far.map(far_text).collect();
    let books = "the difference: oil, water and air as residue, the rest as unexplained";
    (!texts.is_empty()).then(|| as_stated("statement_differs", texts.join(" "), books))
}

fn far_text(it: &Compared) -> String {
    let share = Fraction::new(it.open().abs() * 100, it.own.max(1));
    let residue = match it.residue {
        0 => String::new(),
        residue => format!(" and {} of oil, water and air", lb_oz_text(residue)),
    };
    format!(
        "Of {} the book has {}, the statement {}{residue}: {} {} ({} %). Two scales make {} of it at most.",
        it.name,
        lb_oz_text(it.book),
        lb_oz_text(it.stated),
        lb_oz_text(it.open().abs()),
        if it.open() < 0 { "less" } else { "more" },
        shown_beside(share, &[]),
        lb_oz_text(it.allowed)
    )
}
