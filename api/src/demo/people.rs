//! The people of the invented firm and its customers, and the roles they act in.

use super::script::Job;
use crate::ledger::actor::{Actor, Role};
use crate::ledger::id::Id;
use serde_json::json;

/// Somebody who books, or did the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Person {
    Operator,
    Ines,
    Dov,
    Osric,
    Marguerite,
    Teodor,
    Signe,
    Juno,
}

/// What is registered of a person.
pub struct Member {
    /// Who.
    pub person: Person,
    /// How the script calls them.
    pub word: &'static str,
    /// Full name.
    pub name: &'static str,
    /// E-mail address.
    pub email: &'static str,
    /// The role they act in. The owner of the shop answers for stock and papers and so acts as a
    /// compliance manager beside Osric.
    pub role: Role,
    /// Class of the certificate and its number, for those who open circuits.
    pub certificate: Option<(&'static str, &'static str)>,
}

/// Everybody.
pub const ALL: &[Member] = &[
    Member {
        person: Person::Ines,
        word: "ines",
        name: "Ines Vallory",
        email: "ines@tamarack.example",
        role: Role::Technician,
        certificate: Some(("universal", "TS-40117")),
    },
    Member {
        person: Person::Dov,
        word: "dov",
        name: "Dov Haldane",
        email: "dov@tamarack.example",
        role: Role::Technician,
        certificate: Some(("type_2", "TS-38806")),
    },
    Member {
        person: Person::Osric,
        word: "osric",
        name: "Osric Penhale",
        email: "osric@tamarack.example",
        role: Role::ComplianceManager,
        certificate: None,
    },
    Member {
        person: Person::Marguerite,
        word: "marguerite",
        name: "Marguerite Oyelaran",
        email: "marguerite@tamarack.example",
        role: Role::ComplianceManager,
        certificate: None,
    },
    Member {
        person: Person::Teodor,
        word: "teodor",
        name: "Teodor Brandvold",
        email: "teodor@halfmoon.example",
        role: Role::Auditor,
        certificate: None,
    },
    Member {
        person: Person::Signe,
        word: "signe",
        name: "Signe Aldworth",
        email: "signe@aldworth.example",
        role: Role::Auditor,
        certificate: None,
    },
    Member {
        person: Person::Juno,
        word: "juno",
        name: "Juno Castellane",
        email: "juno@tamarack.example",
        role: Role::Administrator,
        certificate: None,
    },
];

/// The person the script calls so.
pub fn named(word: &str) -> Option<Person> {
    let operator = (word == "operator").then_some(Person::Operator);
    let member = ALL.iter().find(|member| member.word == word);
    member.map(|member| member.person).or(operator)
}

/// A person as the one who books.
pub fn actor(person: Person, id: Id) -> Actor {
    match ALL.iter().find(|member| member.person == person) {
        Some(member) => Actor::person(id, member.role, None),
        None => Actor::OPERATOR,
    }
}

/// The command on the host registers the people; they can be named from then on.
pub fn jobs() -> Vec<Job> {
    let register = |(at, member): (usize, &Member)| {
        let mut facts = json!({"tag": member.email, "name": member.name, "email": member.email});
        if let Some((class, number)) = member.certificate {
            facts["certificate_class"] = json!(class);
            facts["certificate_from"] = json!("2019-04-01");
            facts["serial"] = json!(number);
        }
        let body = json!({"subject": format!("@{}", member.word), "facts": facts});
        Job::new("2025-11-03", &format!("07:{:02}", at + 5), Person::Operator)
            .request(json!({"kind": "person", "body": body}))
    };
    ALL.iter().enumerate().map(register).collect()
}
