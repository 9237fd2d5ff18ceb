//! A model of the ledger: random days at work against plain additions in memory.
//!
//! Promises M1, M2, M3, O1, H5: random sequences of purchases, charges, recoveries, transfers,
//! losses, corrections and repeats, on the engine under test. After each step the book has the
//! size and the balances the model says; now and then everything is proved ([`Shop::sound`]: sums
//! of zero, dense numbers and counts, unique ids, the root by the words of RFC 6962).

use api::actions::Posted;
use api::ledger::id::Id;
use harness::book::Balances;
use harness::shop::Shop;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What somebody does. Numbers are taken modulo what there is.
#[derive(Clone, Debug)]
enum Step {
    Purchase {
        cylinder: usize,
        hundredths: i64,
    },
    Charge {
        cylinder: usize,
        appliance: usize,
        hundredths: i64,
        offline: bool,
    },
    Recover {
        cylinder: usize,
        appliance: usize,
        hundredths: i64,
    },
    Transfer {
        cylinder: usize,
        hundredths: i64,
    },
    Loss {
        appliance: usize,
        hundredths: i64,
    },
    /// Corrects the newest entry of a chain: to another mass, or to nothing.
    Correct {
        entry: usize,
        hundredths: Option<i64>,
    },
    /// Sends an earlier request again.
    Repeat {
        entry: usize,
    },
    /// Sends an earlier id with another mass.
    Reuse {
        entry: usize,
    },
    /// The process begins anew: nothing is in memory.
    Forget,
}

fn step() -> impl Strategy<Value = Step> {
    let mass = || 1_i64..4_000;
    let offline = any::<bool>();
    prop_oneof![
        3 => (0..3_usize, mass()).prop_map(|(cylinder, hundredths)| Step::Purchase { cylinder, hundredths }),
        4 => (0..3_usize, 0..2_usize, mass(), offline).prop_map(|(cylinder, appliance, hundredths, offline)|
            Step::Charge { cylinder, appliance, hundredths, offline }),
        3 => (0..3_usize, 0..2_usize, mass()).prop_map(|(cylinder, appliance, hundredths)|
            Step::Recover { cylinder, appliance, hundredths }),
        2 => (0..3_usize, mass()).prop_map(|(cylinder, hundredths)| Step::Transfer { cylinder, hundredths }),
        1 => (0..2_usize, mass()).prop_map(|(appliance, hundredths)| Step::Loss { appliance, hundredths }),
        4 => (any::<usize>(), proptest::option::of(mass())).prop_map(|(entry, hundredths)|
            Step::Correct { entry, hundredths }),
        2 => any::<usize>().prop_map(|entry| Step::Repeat { entry }),
        1 => any::<usize>().prop_map(|entry| Step::Reuse { entry }),
        1 => Just(Step::Forget),
    ]
}

/// A fact as the model knows it: what is in force in its chain, and what was sent.
struct Chain {
    newest: Id,
    kind: &'static str,
    from: String,
    to: String,
    /// Hundredths of an ounce; nothing: annulled.
    mass: Option<i64>,
    sent: Value,
    posted: Posted,
}

struct World {
    shop: Shop,
    chains: Vec<Chain>,
    size: u64,
    /// Places as a leaf spells them, by how a request does.
    places: BTreeMap<String, String>,
}

const CYLINDERS: [&str; 3] = ["cylinder:A", "cylinder:B", "cylinder:C"];
const APPLIANCES: [&str; 2] = ["appliance:R", "appliance:S"];
/// Steps of 10^-11 g in a hundredth of an ounce: 28.349523125 g / 100 (NIST SP 811, appendix B).
const STEPS: i128 = 28_349_523_125;

impl World {
    fn new() -> World {
        let mut shop = Shop::open();
        let mut places = BTreeMap::from([("atmosphere".to_string(), "atmosphere".to_string())]);
        for place in CYLINDERS
            .iter()
            .chain(&APPLIANCES)
            .chain(&["counterparty:D"])
        {
            let (kind, tag) = place.split_once(':').unwrap();
            let seq = shop.register(kind, json!({"tag": tag})).seq;
            let subject = shop.leaf(seq)["body"]["subject"]
                .as_str()
                .unwrap()
                .to_string();
            places.insert((*place).to_string(), subject);
        }
        let size = shop.size();
        World {
            shop,
            chains: Vec::new(),
            size,
            places,
        }
    }

    fn post(&mut self, kind: &'static str, from: &str, to: &str, mass: i64, offline: bool) {
        let body = json!({"from": from, "to": to, "refrigerant": "R-448A", "mass": text(mass)});
        let sent = json!({"entry_id": Id::random(), "kind": kind, "body": body,
            "captured_offline": offline, "answers": answers()});
        let posted = self.shop.ok(sent.clone());
        assert!(!posted.replayed);
        self.size += 1;
        let newest = posted.entry_id;
        let (from, to) = (from.to_string(), to.to_string());
        self.chains.push(Chain {
            newest,
            kind,
            from,
            to,
            mass: Some(mass),
            sent,
            posted,
        });
    }

    fn take(&mut self, step: &Step) {
        match step {
            Step::Purchase {
                cylinder,
                hundredths,
            } => {
                self.post(
                    "purchase",
                    "counterparty:D",
                    CYLINDERS[*cylinder],
                    *hundredths,
                    false,
                );
            }
            Step::Charge {
                cylinder,
                appliance,
                hundredths,
                offline,
            } => {
                self.post(
                    "charge",
                    CYLINDERS[*cylinder],
                    APPLIANCES[*appliance],
                    *hundredths,
                    *offline,
                );
            }
            Step::Recover {
                cylinder,
                appliance,
                hundredths,
            } => {
                self.post(
                    "recover",
                    APPLIANCES[*appliance],
                    CYLINDERS[*cylinder],
                    *hundredths,
                    false,
                );
            }
            Step::Transfer {
                cylinder,
                hundredths,
            } => {
                let to = CYLINDERS[(cylinder + 1) % 3];
                self.post("transfer", CYLINDERS[*cylinder], to, *hundredths, false);
            }
            Step::Loss {
                appliance,
                hundredths,
            } => {
                self.post(
                    "loss",
                    APPLIANCES[*appliance],
                    "atmosphere",
                    *hundredths,
                    false,
                );
            }
            again => self.again(again),
        }
    }

    /// What is done with an earlier entry, where there is one.
    fn again(&mut self, step: &Step) {
        let count = self.chains.len();
        match step {
            _ if count == 0 => {}
            Step::Correct { entry, hundredths } => self.correct(entry % count, *hundredths),
            Step::Repeat { entry } => self.repeat(entry % count),
            Step::Reuse { entry } => self.reuse(entry % count),
            _ => self.shop.books.clear(),
        }
    }

    fn repeat(&mut self, at: usize) {
        let (sent, first) = (self.chains[at].sent.clone(), self.chains[at].posted.clone());
        let again = self.shop.ok(sent);
        assert!(again.replayed);
        assert_eq!((again.seq, again.leaf_hash), (first.seq, first.leaf_hash));
        assert_eq!((again.nth, again.booked_at), (first.nth, first.booked_at));
    }

    fn reuse(&mut self, at: usize) {
        let mut sent = self.chains[at].sent.clone();
        sent["body"]["mass"] = json!("4001 oz");
        assert_eq!(self.shop.refused(sent).slug(), "id-reused");
    }

    fn correct(&mut self, at: usize, mass: Option<i64>) {
        let chain = &mut self.chains[at];
        let mut body = json!({"corrects": chain.newest, "reason": "misread"});
        if let Some(mass) = mass {
            body["replace"] = json!({"kind": chain.kind, "body": {"from": chain.from,
                "to": chain.to, "refrigerant": "R-448A", "mass": text(mass)}});
        }
        let request = json!({"kind": "correction", "body": body, "answers": answers()});
        chain.newest = self.shop.ok(request).entry_id;
        chain.mass = mass;
        self.size += 1;
    }

    /// The balances, from what is in force and nothing else.
    fn balances(&self) -> Balances {
        let mut balances = Balances::new();
        for chain in &self.chains {
            let mass = i128::from(chain.mass.unwrap_or(0)) * STEPS;
            for (place, by) in [(&chain.from, -mass), (&chain.to, mass)] {
                let place = self.places[place].clone();
                *balances.entry((place, "R-448A".to_string())).or_default() += by;
            }
        }
        balances.retain(|_, mass| *mass != 0);
        balances
    }
}

fn text(hundredths: i64) -> String {
    format!("{}.{:02} oz", hundredths / 100, hundredths % 100)
}

/// Whatever is asked, it is so; so the model need not know what is asked.
fn answers() -> Value {
    let asked = [
        "balance_below_zero",
        "over_content",
        "look_alike",
        "same_mass",
        "rate_jump",
    ];
    let mut answers: BTreeMap<&str, &str> = asked.into_iter().map(|it| (it, "as_stated")).collect();
    answers.insert("other_owner", "already_happened");
    json!(answers)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, failure_persistence: None, ..Default::default() })]
    #[test]
    fn m1_o1_h5_the_ledger_does_what_plain_addition_does(steps in prop::collection::vec(step(), 1..40)) {
        let mut world = World::new();
        for (n, step) in steps.iter().enumerate() {
            world.take(step);
            prop_assert_eq!(world.shop.size(), world.size, "after {:?}", step);
            let expected = world.balances();
            prop_assert_eq!(world.shop.kept_balances(), expected, "after {:?}", step);
            if n % 8 == 7 {
                world.shop.sound();
            }
        }
        world.shop.sound();
        world.shop.caches_agree();
    }
}
