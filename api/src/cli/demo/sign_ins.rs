//! Who may sign in to the demo: everybody of the invented firm, each with a password made up at
//! this start, so that no demo on any machine has a password that somebody knows beforehand.

use crate::actions::assign;
use crate::actions::manage_people::{self, PersonAsked};
use crate::actions::show::things::Sort;
use crate::auth::{password, secret};
use crate::cli::failure::Failure;
use crate::cli::user::{HOST, managing};
use crate::demo;
use crate::ledger::actor::Actor;
use crate::store::Db;
use crate::store::open::Organisation;

/// Letters and digits that nobody mixes up on paper: no i, l, o or u.
const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";

/// How somebody signs in.
pub struct SignIn {
    /// The word of the role they hold.
    pub role: &'static str,
    /// With which address.
    pub email: &'static str,
    /// And which password.
    pub password: String,
}

/// Lets everybody of the firm sign in, and says whose sites are.
pub fn give(db: &mut Db, of: &Organisation) -> Result<Vec<SignIn>, Failure> {
    let mut given = Vec::with_capacity(demo::PEOPLE.len());
    for member in demo::PEOPLE {
        let new = made_up()?;
        let about = [&of.name[..], member.email];
        let asked = PersonAsked {
            person: Some(member.email.to_string()),
            email: member.email.to_string(),
            roles: vec![member.role],
            password_hash: Some(password::hash(&new, &about).map_err(Failure::failed)?),
            ..PersonAsked::default()
        };
        managing(db, of, |tx| manage_people::add(tx, HOST, &asked))?;
        given.push(SignIn {
            role: member.role.word(),
            email: member.email,
            password: new,
        });
    }
    for (site, who) in demo::FOLLOWED {
        let (by, sort) = (Actor::OPERATOR, Sort::Site);
        managing(db, of, |tx| {
            assign::set(tx, &by, sort, site, Some(who), None)
        })?;
    }
    Ok(given)
}

/// A password of 100 random bits in four groups, to be typed on a telephone.
fn made_up() -> Result<String, Failure> {
    let letters = secret::random::<20>()?.map(|byte| LETTERS[usize::from(byte % 32)]);
    let groups = letters.chunks(5).map(String::from_utf8_lossy);
    Ok(groups.collect::<Vec<_>>().join("-"))
}
