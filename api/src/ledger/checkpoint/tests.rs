//! Notes and keys against the examples of the Go checksum database's `sumdb/note` package.
//!
//! Text, keys and signatures are those of its package documentation (golang.org/x/mod, BSD-3-Clause);
//! Ed25519 signs alike everywhere (RFC 8032), so the whole note must come out byte for byte.

use super::*;

const PRIVATE: &str =
    "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
const VKEY: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
const TEXT: &str = "If you think cryptography is the answer to your problem,\n\
                    then you don't know what your problem is.\n";
const SIGNATURE: &str = "\u{2014} PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgY\
                         N1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";
const ENOCH_VKEY: &str = "EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop";
const ENOCH_SIGNATURE: &str = "\u{2014} EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiO\
                               Hp+vAF1aGrQ5ovTG01oOTGwnWLox33WWd1RvMc+QQ=\n";

fn known() -> [VerificationKey; 2] {
    [VKEY, ENOCH_VKEY].map(|vkey| VerificationKey::parse(vkey).unwrap())
}

#[test]
fn keys_and_notes_come_out_byte_for_byte() {
    let key = SigningKey::parse(PRIVATE).unwrap();
    assert_eq!(key.private_text(), PRIVATE);
    assert_eq!(key.verification_key().to_string(), VKEY);
    assert_eq!(
        SigningKey::parse(&format!("{PRIVATE}\n"))
            .unwrap()
            .private_text(),
        PRIVATE
    );
    assert!(!format!("{key:?}").contains("AYEK"));
    let mut note = Note {
        text: TEXT.to_string(),
        signatures: Vec::new(),
    };
    note.sign(&key);
    assert_eq!(note.to_string(), format!("{TEXT}\n{SIGNATURE}"));
    assert_eq!(Note::parse(&note.to_string()), Ok(note));
}

#[test]
fn several_signatures_and_unknown_keys() {
    let both = Note::parse(&format!("{TEXT}\n{SIGNATURE}{ENOCH_SIGNATURE}")).unwrap();
    let known = known();
    assert_eq!(both.verify(&known).unwrap().len(), 2);
    assert_eq!(both.verify(&known[1..]).unwrap()[0].name(), "EnochRoot");
    assert_eq!(both.verify(&[]), Err(NoteError::NoKnownSignature));
    let twice = Note::parse(&format!("{TEXT}\n{SIGNATURE}{SIGNATURE}")).unwrap();
    assert_eq!(twice.verify(&known).unwrap().len(), 1);
    // A line of a known key that does not fit spoils the note, even beside a good one.
    let mut spoilt = both.clone();
    spoilt.signatures[1].bytes[7] ^= 1;
    assert_eq!(
        spoilt.verify(&known),
        Err(NoteError::BadSignature {
            key: ENOCH_VKEY.into()
        })
    );
    assert_eq!(spoilt.verify(&known[..1]).unwrap().len(), 1);
    let other_text = Note {
        text: TEXT.replace("know", "knew"),
        ..both
    };
    assert!(other_text.verify(&known).is_err());
}

/// As Go's own test does: every part and every single-byte change of a key is refused.
#[test]
fn mangled_keys_are_refused() {
    for start in 0..VKEY.len() {
        for end in start..=VKEY.len() {
            let whole = (start, end) == (0, VKEY.len());
            assert_eq!(VerificationKey::parse(&VKEY[start..end]).is_ok(), whole);
        }
    }
    for text in [VKEY, PRIVATE] {
        for at in 0..text.len() {
            let mut bytes = text.as_bytes().to_vec();
            bytes[at] += 1;
            let mangled = String::from_utf8(bytes).unwrap();
            assert!(VerificationKey::parse(&mangled).is_err(), "{mangled}");
            assert!(SigningKey::parse(&mangled).is_err(), "{mangled}");
        }
    }
    // A key of the wrong length and one of an unknown algorithm, their ids adjusted (Go's test).
    for bad in [
        "PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==",
        "PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
    ] {
        assert!(VerificationKey::parse(bad).is_err(), "{bad}");
    }
    assert!(SigningKey::from_seed("two words", &[1; 32]).is_err());
    assert!(SigningKey::from_seed("a+b", &[1; 32]).is_err());
}

#[test]
fn mangled_notes_are_refused() {
    let good = format!("{TEXT}\n{SIGNATURE}");
    assert!(Note::parse(&good).is_ok());
    let dash = "\u{2014} ";
    for bad in [
        String::new(),
        TEXT.to_string(),
        format!("{TEXT}\n"),
        format!("{TEXT}{SIGNATURE}"),
        good.trim_end().to_string(),
        format!("{good}x"),
        good.replace(dash, "- "),
        good.replace(dash, "\u{2014}  "),
        good.replace("PeterNeumann x", "PeterNeumann  x"),
        good.replace("PeterNeumann x", "x"),
        good.replace("nAM=", "nAN="),
        good.replace("nAM=", "nAM"),
        good.replace("know", "kn\tow"),
        format!("{TEXT}\n{dash}PeterNeumann x08goA==\n\n"),
        format!("{TEXT}\n{dash}PeterNeumann x08gow==\n"),
        format!("{TEXT}\n{}", SIGNATURE.repeat(101)),
    ] {
        assert!(Note::parse(&bad).is_err(), "{bad}");
    }
}

/// The example of C2SP tlog-checkpoint (its key is not given there, so only the text is read).
#[test]
fn the_specification_s_checkpoint() {
    let text = "example.com/behind-the-sofa\n20852163\n\
                CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n";
    let note = format!(
        "{text}\n\u{2014} example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4\
         URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"
    );
    let parsed = Note::parse(&note).unwrap();
    let checkpoint = Checkpoint::from_text(&parsed.text).unwrap();
    assert_eq!(checkpoint.size, 20_852_163);
    assert_eq!(checkpoint.text(), text);
    assert_eq!(parsed.to_string(), note);
    assert!(Checkpoint::from_text(&format!("{text}an extension\n")).is_ok());
    for bad in [
        text.replace("20852163", "020852163"),
        text.replace("20852163", "+20852163"),
        text.replace("20852163", "18446744073709551616"),
        text.replace("q2I=", "q2I"),
        text.replace("CsUY", ""),
        text.replace("example.com/behind-the-sofa", ""),
        format!("{text}\n"),
        text.trim_end().to_string(),
        "a\n1\n".to_string(),
    ] {
        assert!(Checkpoint::from_text(&bad).is_err(), "{bad}");
    }
}

#[test]
fn a_new_key_signs_and_verifies() {
    let key = SigningKey::generate("tarebook/6513270e-269e-4d37-b2a7-4de452e6b438").unwrap();
    let checkpoint = Checkpoint {
        origin: key.verification_key().name().to_string(),
        size: 4808,
        root: [7; 32],
    };
    let note = checkpoint.signed_by(&[&key]);
    let again = Note::parse(&note.to_string()).unwrap();
    assert!(again.verify(&[key.verification_key()]).is_ok());
    assert_eq!(Checkpoint::from_text(&again.text), Ok(checkpoint));
    assert_ne!(
        SigningKey::generate("a").unwrap().private_text(),
        key.private_text()
    );
}
