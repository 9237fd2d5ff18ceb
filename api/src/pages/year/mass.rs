//! The year of mass: what came into the cylinders of a refrigerant, the cylinders it stood in, where it
//! went, joined by bands as thick as the mass. The drawing, and the table with the same figures.

use super::drawing::{self, Flow};
use crate::pages::picture::Picture;
use reports::mass::{grams_text, kg_text, lb_oz_text};
use reports::sheet::mass_balance::{Account, Balance, Figure, Part, Vessel};

/// A mass in a table: what is read, and the exact grams for programs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// Pounds and ounces.
    pub lb_oz: String,
    /// Exact grams.
    pub g: String,
}

impl Cell {
    fn of(steps: i128) -> Cell {
        Cell {
            lb_oz: lb_oz_text(steps),
            g: grams_text(steps),
        }
    }
}

/// A row of one side: a figure in each part, and in all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SideRow {
    /// What it is.
    pub name: &'static str,
    /// By part.
    pub parts: Vec<Cell>,
    /// Together.
    pub whole: Cell,
    /// The same in kilograms.
    pub kg: String,
    /// Is it what counts could not explain?
    pub is_unexplained: bool,
}

/// One side of the account.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Side {
    /// `Came in`, `Accounted for`.
    pub caption: &'static str,
    /// Its rows.
    pub rows: Vec<SideRow>,
    /// Their sum.
    pub total: SideRow,
}

/// A refrigerant in the list of all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Where its picture is.
    pub href: String,
    /// Designation.
    pub refrigerant: String,
    /// Is it the one that is drawn?
    pub shown: bool,
    /// What came in, charged, went elsewhere, closing, unexplained.
    pub cells: [Cell; 5],
    /// What is unexplained in words: `1 lb 2 oz short`.
    pub unexplained: String,
    /// Did counts find anything that no entry says?
    pub is_open: bool,
}

/// The picture of one refrigerant and the table below it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MassOfYear {
    /// Which.
    pub refrigerant: String,
    /// The drawing.
    pub picture: Picture,
    /// The kinds of cylinder, heading the columns.
    pub parts: Vec<&'static str>,
    /// Both sides.
    pub sides: [Side; 2],
    /// All refrigerants of the year.
    pub all: Vec<Listed>,
}

/// What a figure is called in the table.
pub fn figure_name(figure: Figure) -> &'static str {
    match figure {
        Figure::Opening => "Opening stock",
        Figure::Purchased => "Bought",
        Figure::Recovered => "Recovered from appliances",
        Figure::Received => "Received from others",
        Figure::StatedLess => "Less by statement than was sent",
        Figure::RedesignatedIn => "Had another name before",
        Figure::Found => "Unexplained: over",
        Figure::MovedIn => "From cylinders of another kind",
        Figure::Charged => "Charged into appliances",
        Figure::ToReclaim => "Sent to reclaim",
        Figure::ToDestruction => "Sent to destruction",
        Figure::Returned => "Returned to suppliers",
        Figure::StatedMore => "More by statement than was sent",
        Figure::Lost => "Stated losses",
        Figure::RedesignatedOut => "Has another name now",
        Figure::Residue => "Residue: oil, water, air",
        Figure::Missing => "Unexplained: short",
        Figure::MovedOut => "To cylinders of another kind",
    }
}

/// What a figure is called in the drawing, wide and narrow.
pub fn names(figure: Figure) -> (&'static str, &'static str) {
    match figure {
        Figure::Opening => ("opening stock", "opening stock"),
        Figure::Purchased => ("bought", "bought"),
        Figure::Recovered => ("recovered from appliances", "recovered"),
        Figure::Received => ("received from others", "from others"),
        Figure::StatedLess => ("less by statement", "less by statem."),
        Figure::RedesignatedIn => ("had another name before", "renamed to it"),
        Figure::Found => ("unexplained: over", "unexpl. over"),
        Figure::MovedIn | Figure::MovedOut => ("moved", "moved"),
        Figure::Charged => ("charged into appliances", "charged"),
        Figure::ToReclaim => ("sent to reclaim", "to reclaim"),
        Figure::ToDestruction => ("sent to destruction", "to destruction"),
        Figure::Returned => ("returned to suppliers", "returned"),
        Figure::StatedMore => ("more by statement", "more by statem."),
        Figure::Lost => ("stated losses", "losses"),
        Figure::RedesignatedOut => ("has another name now", "renamed"),
        Figure::Residue => ("residue", "residue"),
        Figure::Missing => ("unexplained: short", "unexpl. short"),
    }
}

/// What a part is called in the drawing, wide and narrow.
pub fn box_name(part: Part) -> (&'static str, &'static str) {
    match part {
        Part::Cylinders(Vessel::Supply) => ("supply cylinders", "supply"),
        Part::Cylinders(Vessel::Disposable) => ("disposables", "disposables"),
        Part::Cylinders(Vessel::Recovery) => ("recovery cylinders", "recovery"),
        Part::Cylinders(Vessel::NotStated) => ("use not stated", "not stated"),
        Part::Statements => ("by statement", "statement"),
    }
}

/// Figures that stand on the page whatever they are; others where there is something in them.
const ALWAYS: [Figure; 9] = [
    Figure::Opening,
    Figure::Purchased,
    Figure::Recovered,
    Figure::Received,
    Figure::Charged,
    Figure::ToReclaim,
    Figure::ToDestruction,
    Figure::Lost,
    Figure::Missing,
];

/// Does a figure of a balance stand on the page?
pub fn is_shown(balance: &Balance, figure: Figure) -> bool {
    let of_part = |(_, account): &(Part, Account)| account.of(figure) != 0;
    ALWAYS.contains(&figure) || balance.parts.iter().any(of_part)
}

impl MassOfYear {
    /// The page's part of it: the refrigerant that was asked for, else the one of which most came in;
    /// `address`: the page without the refrigerant.
    pub fn of(
        balances: &[Balance],
        asked: Option<&str>,
        year: i16,
        address: &str,
    ) -> Option<MassOfYear> {
        let named = asked.and_then(|name| balances.iter().find(|one| one.refrigerant == name));
        let most = || balances.iter().max_by_key(|one| one.whole.came_in());
        let shown = named.or_else(most)?;
        let listed = |one: &Balance| Listed {
            href: format!(
                "{address}&refrigerant={}#mass",
                crate::pages::encoded(&one.refrigerant)
            ),
            refrigerant: one.refrigerant.clone(),
            shown: one.code == shown.code,
            cells: [
                one.whole.came_in(),
                one.whole.of(Figure::Charged),
                elsewhere(&one.whole),
                one.whole.closing,
                one.whole.unexplained(),
            ]
            .map(Cell::of),
            unexplained: unexplained_words(&one.whole),
            is_open: counted(one, Figure::Missing) != 0 || counted(one, Figure::Found) != 0,
        };
        let sentence = sentence(shown);
        let flow = Flow::of(shown);
        let title = format!("The year of mass {year}: {}", shown.refrigerant);
        Some(MassOfYear {
            refrigerant: shown.refrigerant.clone(),
            picture: Picture::of(sentence.clone(), |size| {
                drawing::draw(&flow, size, &title, &sentence)
            }),
            parts: shown
                .parts
                .iter()
                .map(|(part, _)| box_name(*part).0)
                .collect(),
            sides: sides(shown),
            all: balances.iter().map(listed).collect(),
        })
    }
}

/// What left and was not charged: sent away, renamed, lost.
fn elsewhere(whole: &Account) -> i128 {
    let known = whole.of(Figure::Charged) + whole.of(Figure::Missing) + whole.closing;
    whole.accounted() - known
}

/// What counts found short or over; the rest of it is what accepted statements leave.
pub fn counted(balance: &Balance, figure: Figure) -> i128 {
    let of_cylinders = |(part, _): &&(Part, Account)| *part != Part::Statements;
    let parts = balance.parts.iter().filter(of_cylinders);
    parts.map(|(_, account)| account.of(figure)).sum()
}

/// `1 lb 2 oz short`, `12 lb 8 oz over`, both, or `none`.
fn unexplained_words(whole: &Account) -> String {
    let named = [(Figure::Missing, "short"), (Figure::Found, "over")];
    let found = named.into_iter().filter(|(of, _)| whole.of(*of) != 0);
    let said = found.map(|(of, word)| format!("{} {word}", lb_oz_text(whole.of(of))));
    match said.collect::<Vec<_>>() {
        none if none.is_empty() => "none".to_string(),
        said => said.join(", "),
    }
}

/// `601 lb 6 oz of R-410A came in; 318 lb 2 oz of it went into appliances. ...`
fn sentence(balance: &Balance) -> String {
    let whole = &balance.whole;
    let mass = lb_oz_text;
    let mut said = format!(
        "{} of {} came in or was there; {} went into appliances, {} is still there.",
        mass(whole.came_in()),
        match balance.refrigerant.as_str() {
            "unknown" => "refrigerant that nobody has identified",
            "mixture" => "mixtures",
            name => name,
        },
        mass(whole.of(Figure::Charged)),
        mass(whole.closing),
    );
    let by_count = [Figure::Missing, Figure::Found].map(|figure| counted(balance, figure));
    let [short, over] = by_count;
    let stated = [Figure::Missing, Figure::Found].map(|of| whole.of(of) - counted(balance, of));
    said.push_str(&match (short, over) {
        (0, 0) if stated == [0, 0] => " Nothing is unexplained.".to_string(),
        (0, 0) => String::new(),
        (short, 0) => format!(" {} has no explanation yet.", mass(short)),
        (0, over) => format!(" Counts found {} more than the book had.", mass(over)),
        (short, over) => format!(
            " {} has no explanation yet, and counts found {} elsewhere.",
            mass(short),
            mass(over)
        ),
    });
    for (mass, word) in stated.into_iter().zip(["short", "over"]) {
        if mass != 0 {
            let mass = lb_oz_text(mass);
            said.push_str(&format!(" Accepted statements leave {mass} {word}."));
        }
    }
    if whole.closing < 0 {
        said.push_str(" The stock stands below nothing: an entry is missing.");
    }
    said
}

fn row(balance: &Balance, name: &'static str, of: impl Fn(&Account) -> i128) -> SideRow {
    let whole = of(&balance.whole);
    SideRow {
        name,
        parts: (balance.parts.iter())
            .map(|(_, account)| Cell::of(of(account)))
            .collect(),
        whole: Cell::of(whole),
        kg: kg_text(whole),
        is_unexplained: false,
    }
}

fn sides(balance: &Balance) -> [Side; 2] {
    let rows = |figures: &[Figure]| -> Vec<SideRow> {
        let shown = figures.iter().filter(|one| is_shown(balance, **one));
        shown
            .map(|figure| SideRow {
                is_unexplained: matches!(figure, Figure::Missing | Figure::Found)
                    && counted(balance, *figure) != 0,
                ..row(balance, figure_name(*figure), |account| account.of(*figure))
            })
            .collect()
    };
    let mut out = rows(&Figure::OUT);
    out.push(row(balance, "Closing stock", |account| account.closing));
    [
        Side {
            caption: "Came in",
            rows: rows(&Figure::IN),
            total: row(balance, "Came in", Account::came_in),
        },
        Side {
            caption: "Accounted for",
            rows: out,
            total: row(balance, "Accounted for", Account::accounted),
        },
    ]
}
