//! What is asked before a statement is taken: a difference that two scales do not make, another name than
//! was shipped, a weight in another unit, a shipment whose statement is accepted already.

use super::shipped::Shipped;
use super::stated;
use crate::actions::judge::as_stated;
use crate::actions::refusal::Question;
use crate::ledger::entry::Stated;
use crate::store::StoreError;
use crate::store::tx::Tx;
use reports::mass::{Mass, lb_oz_text};
use reports::number::{Fraction, shown_beside};
use reports::shipment::{Adjustment, Way, adjustments, other_unit, tolerance};

/// One refrigerant, in steps.
struct Compared {
    name: String,
    own: i128,
    book: i128,
    stated: i128,
    residue: i128,
    /// What nobody explains: no residue, no other name, nothing that was accepted before.
    open: i128,
    /// What is told apart by it: the own weight, or all that was sent where none was under this name.
    base: i128,
    allowed: i128,
}

impl Compared {
    fn is_far(&self) -> bool {
        self.open.abs() > self.allowed
    }
}

/// All that is asked, once each.
pub(super) fn questions(
    tx: &Tx<'_>,
    lines: &[(u16, Stated<'static>)],
    shipped: &Shipped,
    accepted: bool,
) -> Result<Vec<Question>, StoreError> {
    let adjusted = adjustments(&shipped.book, &stated(lines));
    let compared: Vec<Compared> = (lines.iter())
        .map(|(code, line)| compared(tx, *code, line, shipped, &adjusted))
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

fn compared(
    tx: &Tx<'_>,
    code: u16,
    line: &Stated<'_>,
    shipped: &Shipped,
    adjusted: &[Adjustment],
) -> Compared {
    let steps = |mass: Mass| i128::from(mass.steps());
    let own = shipped.own.get(&code).copied().unwrap_or(0);
    let base = match own {
        0 => shipped.own.values().sum(),
        own => own,
    };
    let of_it = shipped
        .steps
        .iter()
        .filter(|(known, _)| *known == code || own == 0);
    let of_code = adjusted.iter().filter(|one| one.refrigerant == code);
    let open = of_code.map(|one| match one.way {
        Way::Found => one.mass,
        Way::Missing => -one.mass,
        _ => 0,
    });
    Compared {
        name: tx.table.designation(code).unwrap_or_default().to_string(),
        own,
        book: shipped.book.get(&code).copied().unwrap_or(0),
        stated: steps(line.g),
        residue: line.residue.as_ref().map_or(0, |residue| steps(residue.g)),
        open: open.sum(),
        base,
        allowed: tolerance(base, of_it.map(|(_, step)| *step)),
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
    let far = compared.iter().filter(|it| it.is_far());
    let texts: Vec<String> = far.map(far_text).collect();
    let books = "the difference: oil, water and air as residue, the rest as unexplained";
    (!texts.is_empty()).then(|| as_stated("statement_differs", texts.join(" "), books))
}

fn far_text(it: &Compared) -> String {
    let share = Fraction::new(it.open.abs() * 100, it.base.max(1));
    let residue = match it.residue {
        0 => String::new(),
        residue => format!(" and {} of oil, water and air", lb_oz_text(residue)),
    };
    format!(
        "Of {} the book has {}, the statement {}{residue}: {} {} ({} %). Two scales are apart by {} at most.",
        it.name,
        lb_oz_text(it.book),
        lb_oz_text(it.stated),
        lb_oz_text(it.open.abs()),
        if it.open < 0 { "less" } else { "more" },
        shown_beside(share, &[]),
        lb_oz_text(it.allowed)
    )
}
