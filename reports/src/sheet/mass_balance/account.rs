//! The account of the cylinders: what came in, where it went, what is left, by refrigerant and by
//! kind of cylinder.
//!
//! Every movement counts at the cylinder it enters and at the one it leaves, so both sides of every
//! account come to the same mass, to the last step of 10^-11 g.

use crate::day::Day;
use crate::event::Kind;
use crate::mass::Mass;
use crate::sheet::Designations;
use std::collections::{BTreeMap, BTreeSet};

/// The kind of a cylinder, as its register says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Vessel {
    Supply,
    Disposable,
    Recovery,
    NotStated,
}

impl Vessel {
    /// The kind with this word; one that is not known, or none, is not stated.
    pub fn named(word: &str) -> Vessel {
        match word {
            "supply" => Vessel::Supply,
            "disposable" => Vessel::Disposable,
            "recovery" => Vessel::Recovery,
            _ => Vessel::NotStated,
        }
    }

    /// The word of the register; empty: none was stated.
    pub fn word(self) -> &'static str {
        match self {
            Vessel::Supply => "supply",
            Vessel::Disposable => "disposable",
            Vessel::Recovery => "recovery",
            Vessel::NotStated => "",
        }
    }
}

/// One end of a movement, as far as the account tells places apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum End {
    Cylinder(Vessel),
    Appliance,
    /// Small appliances emptied in bulk.
    Unregistered,
    Counterparty,
    Atmosphere,
    Unexplained,
    Opening,
    Redesignation,
    Residue,
    /// Somebody else's, or a place of a newer program.
    Elsewhere,
}

/// One movement; those that a correction took back are not among them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moved {
    /// Number of its entry.
    pub entry: u64,
    /// What it was.
    pub kind: Kind,
    /// Local day.
    pub day: Day,
    /// Code of the refrigerant table.
    pub refrigerant: u16,
    /// How much.
    pub mass: Mass,
    /// Where it came from.
    pub from: End,
    /// Where it went.
    pub to: End,
}

/// A figure of the account; in the order of its columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Figure {
    Opening,
    Purchased,
    Recovered,
    Received,
    StatedLess,
    RedesignatedIn,
    Found,
    MovedIn,
    Charged,
    ToReclaim,
    ToDestruction,
    Returned,
    StatedMore,
    Lost,
    RedesignatedOut,
    Residue,
    Missing,
    MovedOut,
}

const FIGURES: usize = 18;

impl Figure {
    /// What came in.
    pub const IN: [Figure; 8] = [
        Figure::Opening,
        Figure::Purchased,
        Figure::Recovered,
        Figure::Received,
        Figure::StatedLess,
        Figure::RedesignatedIn,
        Figure::Found,
        Figure::MovedIn,
    ];

    /// Where it went; what stayed is no figure of its own movements.
    pub const OUT: [Figure; 10] = [
        Figure::Charged,
        Figure::ToReclaim,
        Figure::ToDestruction,
        Figure::Returned,
        Figure::StatedMore,
        Figure::Lost,
        Figure::RedesignatedOut,
        Figure::Residue,
        Figure::Missing,
        Figure::MovedOut,
    ];

    /// The column, before its unit.
    pub fn word(self) -> &'static str {
        match self {
            Figure::Opening => "opening",
            Figure::Purchased => "purchased",
            Figure::Recovered => "recovered",
            Figure::Received => "received",
            Figure::StatedLess => "stated_less",
            Figure::RedesignatedIn => "redesignated_in",
            Figure::Found => "found",
            Figure::MovedIn => "moved_in",
            Figure::Charged => "charged",
            Figure::ToReclaim => "to_reclaim",
            Figure::ToDestruction => "to_destruction",
            Figure::Returned => "returned",
            Figure::StatedMore => "stated_more",
            Figure::Lost => "lost",
            Figure::RedesignatedOut => "redesignated_out",
            Figure::Residue => "residue",
            Figure::Missing => "missing",
            Figure::MovedOut => "moved_out",
        }
    }

    /// Between cylinders of two kinds: nothing came into the stock, nothing left it.
    pub fn is_inside(self) -> bool {
        matches!(self, Figure::MovedIn | Figure::MovedOut)
    }

    fn comes_in(self) -> bool {
        self < Figure::Charged
    }

    /// Whence something came.
    fn from(end: End, kind: Kind) -> Figure {
        match end {
            End::Cylinder(_) => Figure::MovedIn,
            End::Appliance | End::Unregistered => Figure::Recovered,
            End::Counterparty if kind == Kind::Purchase => Figure::Purchased,
            End::Opening => Figure::Opening,
            End::Redesignation => Figure::RedesignatedIn,
            End::Unexplained => Figure::Found,
            End::Counterparty | End::Atmosphere | End::Residue | End::Elsewhere => Figure::Received,
        }
    }

    /// Where something went.
    fn to(end: End, kind: Kind) -> Figure {
        match end {
            End::Cylinder(_) => Figure::MovedOut,
            End::Appliance | End::Unregistered => Figure::Charged,
            End::Counterparty if kind == Kind::SendToReclaim => Figure::ToReclaim,
            End::Counterparty if kind == Kind::SendToDestruction => Figure::ToDestruction,
            End::Atmosphere => Figure::Lost,
            End::Redesignation => Figure::RedesignatedOut,
            End::Unexplained => Figure::Missing,
            End::Residue => Figure::Residue,
            End::Counterparty | End::Opening | End::Elsewhere => Figure::Returned,
        }
    }
}

/// What an account is kept for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// Cylinders of one kind.
    Cylinders(Vessel),
    /// What a receiver's statement changed of what had left already: it passes through.
    Statements,
}

/// What a movement gives to a figure of a part.
pub(super) type Given = (Part, Figure, i128);

impl Moved {
    /// What it gives to the figures of a year that begins on a day.
    pub(super) fn gives(&self, first: Day) -> [Option<Given>; 2] {
        let mass = i128::from(self.mass.steps());
        let (from, to) = (self.from, self.to);
        if let (End::Cylinder(one), End::Cylinder(other)) = (from, to)
            && one == other
        {
            return [None, None];
        }
        let stock = |end: End| match end {
            End::Cylinder(vessel) => Some(Part::Cylinders(vessel)),
            _ => None,
        };
        if self.day < first {
            let out = stock(from).map(|part| (part, Figure::Opening, -mass));
            return [out, stock(to).map(|part| (part, Figure::Opening, mass))];
        }
        if stock(from).is_none() && stock(to).is_none() {
            return self.passes_through(mass);
        }
        [
            stock(from).map(|part| (part, Figure::to(to, self.kind), mass)),
            stock(to).map(|part| (part, Figure::from(from, self.kind), mass)),
        ]
    }

    /// What left already and turned out to be something else, less or more.
    fn passes_through(&self, mass: i128) -> [Option<Given>; 2] {
        let whence = match (self.from, self.to) {
            (_, End::Appliance) | (End::Appliance, _) | (End::Counterparty, End::Counterparty) => {
                return [None, None];
            }
            (End::Counterparty, _) => Figure::StatedLess,
            (_, End::Counterparty) => Figure::from(self.from, self.kind),
            _ => return [None, None],
        };
        let whither = match self.to {
            End::Counterparty => Figure::StatedMore,
            to => Figure::to(to, self.kind),
        };
        [
            Some((Part::Statements, whence, mass)),
            Some((Part::Statements, whither, mass)),
        ]
    }
}

/// The figures of one refrigerant in one part, in steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Account {
    figures: [i128; FIGURES],
    /// What is in the cylinders at the end: the balance that every movement left.
    pub closing: i128,
}

impl Account {
    /// A figure.
    pub fn of(&self, figure: Figure) -> i128 {
        self.figures[figure as usize]
    }

    /// All that came in, with what was there.
    pub fn came_in(&self) -> i128 {
        Figure::IN.iter().map(|figure| self.of(*figure)).sum()
    }

    /// All that went out, with what is there.
    pub fn accounted(&self) -> i128 {
        let out: i128 = Figure::OUT.iter().map(|figure| self.of(*figure)).sum();
        out + self.closing
    }

    /// What counts found missing, less what they found too much.
    pub fn unexplained(&self) -> i128 {
        self.of(Figure::Missing) - self.of(Figure::Found)
    }

    pub(super) fn is_empty(&self) -> bool {
        *self == Account::default()
    }

    fn take(&mut self, figure: Figure, mass: i128) {
        self.figures[figure as usize] += mass;
        self.closing += closing_change(figure, mass);
    }

    /// Adds a part up into the whole, where what moved between cylinders has not moved at all.
    fn add(&mut self, part: &Account) {
        for figure in Figure::IN.into_iter().chain(Figure::OUT) {
            if !figure.is_inside() {
                self.figures[figure as usize] += part.of(figure);
            }
        }
        self.closing += part.closing;
    }
}

/// What a contribution to a figure does to the closing stock.
pub(super) fn closing_change(figure: Figure, mass: i128) -> i128 {
    if figure.comes_in() { mass } else { -mass }
}

/// One refrigerant: its parts, and all of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Balance {
    /// Code of the refrigerant table.
    pub code: u16,
    /// Designation.
    pub refrigerant: String,
    /// By kind of cylinder, in the order of [`Part`]; without those in which nothing was.
    pub parts: Vec<(Part, Account)>,
    /// The sum.
    pub whole: Account,
}

/// The accounts of a year, gathered movement by movement in constant memory.
#[derive(Clone, Debug)]
pub struct Stock {
    first: Day,
    accounts: BTreeMap<u16, BTreeMap<Part, Account>>,
}

impl Stock {
    /// An empty account of a year that begins on a day.
    pub fn new(first: Day) -> Stock {
        Stock {
            first,
            accounts: BTreeMap::new(),
        }
    }

    /// Takes a movement in; those after the last day looked at must not come.
    pub fn take(&mut self, moved: &Moved) {
        for (part, figure, mass) in moved.gives(self.first).into_iter().flatten() {
            let parts = self.accounts.entry(moved.refrigerant).or_default();
            parts.entry(part).or_default().take(figure, mass);
        }
    }

    /// What came of it, by designation; `also`: codes that have a row whatever moved.
    pub fn balances(&self, names: &dyn Designations, also: &BTreeSet<u16>) -> Vec<Balance> {
        let mut codes: BTreeSet<u16> = self.accounts.keys().copied().collect();
        codes.extend(also);
        let nothing = BTreeMap::new();
        let balance = |code: u16| {
            let parts = self.accounts.get(&code).unwrap_or(&nothing).iter();
            let parts: Vec<(Part, Account)> = parts
                .filter(|(_, account)| !account.is_empty())
                .map(|(part, account)| (*part, *account))
                .collect();
            let mut whole = Account::default();
            parts.iter().for_each(|(_, account)| whole.add(account));
            Balance {
                code,
                refrigerant: names.designation(code).to_string(),
                parts,
                whole,
            }
        };
        let mut balances: Vec<Balance> = codes.into_iter().map(balance).collect();
        balances.retain(|balance| !balance.parts.is_empty() || also.contains(&balance.code));
        balances.sort_by(|a, b| a.refrigerant.cmp(&b.refrigerant));
        balances
    }
}
