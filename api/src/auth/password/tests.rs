//! What is a password and what is none, and that hashing costs what it should.

use super::*;

const ABOUT: [&str; 2] = [
    "Tamarack Ridge Mechanical",
    "juno.castellane@tamarack.example",
];

/// Passwords of the sorts that lists of leaked ones are full of (made up here, from memory), and
/// what names the person, the firm or the program.
#[test]
fn what_is_tried_first_is_refused() {
    for password in [
        "passwordpassword",
        "Password12345678!",
        "qwertyuiopasdfghjkl",
        "abcabcabcabcabcabc",
        "111111111111111111",
        "123456789012345678",
        "987654321987654321",
        "letmein-letmein-letmein",
        "1qaz2wsx3edc4rfv5tgb",
        "correct horse battery staple",
        "Welcome2026Welcome2026",
        "aabbaabbaabbaabb",
        "Admin_Admin_Admin_2026",
        "my tarebook is good",
        "Tamarack-Ridge-Mechanical 7",
        "juno.castellane sings",
        "iloveyouiloveyou1",
    ] {
        assert!(refuse(password, &ABOUT).is_some(), "{password}");
    }
}

#[test]
fn a_sentence_of_ones_own_is_a_password() {
    for password in [
        "nine kettles on a windy roof",
        "Der Hut, der hat drei Ecken!",
        "vbN7-qLx2-Rt9w-Kc4z",
        "雪の降る町で静かに眠る猫がいる朝",
        "the walk-in hums at dawn 4",
        "m9Zk2 pQ7rT x4LwV",
    ] {
        assert_eq!(refuse(password, &ABOUT), None, "{password}");
    }
}

#[test]
fn length_is_counted_in_characters() {
    let of = |length: usize| {
        "aeiounxvzkwqjpl "
            .chars()
            .cycle()
            .take(length)
            .collect::<String>()
    };
    assert!(refuse(&of(14), &[]).unwrap().contains("15 to 256"));
    assert_eq!(
        refuse("zorgvuldig häät", &[]),
        None,
        "15 characters, 17 bytes"
    );
    assert!(refuse(&of(257), &[]).is_some());
}

/// NFC before hashing (UAX 15: U+00E9 equals U+0065 U+0301), and nothing else is changed.
#[test]
fn only_the_normal_form_is_changed() {
    let cheap = Hashing {
        memory: 64,
        passes: 1,
        lanes: 1,
    };
    let phc = cheap.hash("caf\u{e9} under the old bridge").unwrap();
    assert!(fits("cafe\u{301} under the old bridge", &phc));
    for other in [
        "Caf\u{e9} under the old bridge",
        "caf\u{e9} under the old bridge ",
        "cafe under the old bridge",
        "",
    ] {
        assert!(!fits(other, &phc), "{other}");
    }
}

/// OWASP Password Storage Cheat Sheet: Argon2id, m = 19 MiB, t = 2, p = 1.
#[test]
fn a_hash_says_how_it_was_made_and_is_made_anew_when_that_rose() {
    let today = Hashing::default();
    let phc = hash("nine kettles on a windy roof", &[]).unwrap();
    assert!(phc.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{phc}");
    assert!(!today.is_dearer_than(&phc));
    let dearer = Hashing {
        memory: 65_536,
        passes: 3,
        lanes: 4,
    };
    assert!(dearer.is_dearer_than(&phc));
    let cheaper = Hashing {
        memory: 64,
        passes: 1,
        lanes: 1,
    };
    assert!(
        !cheaper.is_dearer_than(&phc),
        "a hash is never made cheaper"
    );
}

/// Promise A6: what stands for an address that nobody has is hashed like any other.
#[test]
fn a6_the_dummy_is_a_hash_with_todays_parameters_that_nothing_fits() {
    let phc = Hashing::default().dummy();
    let parsed = PasswordHash::new(&phc).unwrap();
    let params = Params::try_from(&parsed).unwrap();
    assert_eq!(
        (params.m_cost(), params.t_cost(), params.p_cost()),
        (19_456, 2, 1)
    );
    assert_eq!(parsed.salt.unwrap().len(), 16);
    assert_eq!(parsed.hash.unwrap().len(), 32);
    assert!(!fits("", &phc));
}

#[test]
fn too_long_a_password_fits_nothing_and_costs_the_same() {
    let cheap = Hashing {
        memory: 64,
        passes: 1,
        lanes: 1,
    };
    let phc = cheap.hash("").unwrap();
    assert!(
        !fits(&"a".repeat(100_000), &phc),
        "not taken for the empty one that is hashed"
    );
}
