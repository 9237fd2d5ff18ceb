//! Guessing codes: promises A5 and A6.

use super::*;
use crate::signing_in::{PASSWORD, WRONG};
use api::auth::factor::Deed;

/// A5: five codes for one password; they count as failed sign-ins, so that the password waits; and
/// nobody is locked out.
#[test]
fn a5_five_wrong_codes_begin_again_and_lock_nobody_out() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let (mut after, mut said) = (10 * 60, Vec::new());
    let waits = half(&door, &mut shop, &Try { after, ..INES });
    // The password counts one and each code one: from five on 1, 2, ... s between two of them.
    for wait in [0, 0, 0, 0, 1] {
        if wait > 0 {
            let early = outcome(shows(&door, &mut shop.db, &waits, "000000", after));
            assert_eq!(early, format!("later {wait}"));
        }
        after += wait;
        said.push(outcome(shows(
            &door,
            &mut shop.db,
            &waits,
            "no code",
            after,
        )));
    }
    let left = |left: u32| format!("wrong code, {left} left");
    let last = "again".to_string();
    assert_eq!(said, [left(4), left(3), left(2), left(1), last]);
    let right = outcome(shows(&door, &mut shop.db, &waits, &held.code(after), after));
    assert_eq!(right, "again", "also the right one comes too late");
    let early = outcome(attempt(&door, &mut shop, &Try { after, ..INES }));
    assert_eq!(early, "later 2", "six failures so far");
    after += 2;
    let waits = half(&door, &mut shop, &Try { after, ..INES });
    // A right password is followed by no wait.
    let code = held.code(after);
    let session = shows(&door, &mut shop.db, &waits, &code, after).expect("not locked out");
    assert_eq!(session.failures, 6, "and is told of it");
    let failed = words(&mut shop);
    let failed = failed.iter().filter(|word| *word == "code_failed");
    assert_eq!(failed.count(), 5);
}

/// A5: a hundred failures end it for strangers, however right the password is, and not for a browser
/// that is known.
#[test]
fn a5_codes_are_guessed_a_hundred_times_at_most() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let cookie = held.session.known_device.clone().expect("a new browser");
    let (mut after, mut guessed) = (3_600, 0);
    'guessing: for _ in 0..60 {
        after += 3_600;
        let it = Try {
            source: "198.51.100.9",
            after,
            ..INES
        };
        let waits = match attempt(&door, &mut shop, &it) {
            Err(SignInRefused::CodeAsked { secret }) => secret,
            Err(SignInRefused::Later { .. }) => break 'guessing,
            other => panic!("{}", outcome(other)),
        };
        for nth in 0..5 {
            // The longest wait is a quarter of an hour, so only the first is looked at in time.
            let later = after + nth * 60;
            if outcome(shows(&door, &mut shop.db, &waits, "000000", later)).starts_with("wrong") {
                guessed += 1;
            }
        }
    }
    assert!((30..=100).contains(&guessed), "{guessed}");
    let known = Try {
        device: Some(&cookie),
        after,
        ..INES
    };
    let waits = half(&door, &mut shop, &known);
    let shown = CodeShown {
        half: &waits,
        code: &held.code(after),
        source: HERE,
        known_device: Some(&cookie),
    };
    let session = second_step::take(&door, &mut shop.db, &shown, at(after));
    assert_eq!(outcome(session), "in");
}

/// A wrong password of somebody with a factor looks like one of anybody: promise A6.
#[test]
fn a6_only_the_right_password_is_asked_for_a_code() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    set_up(&door, &mut shop, INES.email);
    for (email, password) in [(INES.email, WRONG), ("nobody@tamarack.example", PASSWORD)] {
        let it = Try {
            email,
            password,
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &it)), "wrong");
    }
    for nonsense in ["", "short", &"A".repeat(43)] {
        let said = outcome(shows(&door, &mut shop.db, nonsense, "000000", 0));
        assert_eq!(said, "again", "{nonsense}");
    }
}

/// A5: who is signed in and guesses codes waits as at the door.
#[test]
fn a5_codes_of_somebody_who_is_signed_in_wait_as_passwords_do() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let by = &held.session.signed_in;
    let mut guess = |code: &str, after| match factor::change(
        &door,
        &mut shop.db,
        by,
        Deed::Off,
        code,
        HERE,
        at(after),
    ) {
        Err(FactorRefused::Wrong) => "wrong".to_string(),
        Err(FactorRefused::Later(seconds)) => format!("later {seconds}"),
        Err(other) => format!("{other:?}"),
        Ok(_) => "off".to_string(),
    };
    for nth in 0..5 {
        assert_eq!(guess("000000", 60), "wrong", "{nth}");
    }
    assert_eq!(guess(&held.code(60), 60), "later 1");
    assert_eq!(guess(&held.code(61), 61), "off");
}
