//! Codes of labels: short names for appliances, cylinders and sites that can be typed with gloves.
//!
//! A kind letter, six characters that follow from the thing's id, and a check character that
//! catches every single wrong character and every two that changed places. Nothing is stored: the
//! same thing has the same code in every copy of the book. Two things of one book may share a code
//! (one pair is likely from about 30 000 things on); whoever reads the code is then shown both.

use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use crate::store::columns::Sort;

/// Thirty-two characters without I, L, O and U, which look like others or make words.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Things that have codes, with their letters.
const LETTERS: [(Sort, u8); 3] = [
    (Sort::Appliance, b'A'),
    (Sort::Cylinder, b'C'),
    (Sort::Site, b'S'),
];

/// The letter of codes that name a service record.
const RECORD: u8 = b'R';

/// What a typed text is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A code of ours, whole and without a slip.
    Code(Sort, String),
    /// It has the shape of a code, and one character at least is wrong.
    Slip,
    /// Something else: a tag, a serial number.
    Other,
}

/// The code of a thing, eight characters; none: things of its sort have no labels.
pub fn of(sort: Sort, id: Id) -> Option<String> {
    let (_, letter) = LETTERS.iter().find(|(known, _)| *known == sort)?;
    let mut named = b"tarebook/label/v1\0".to_vec();
    named.push(*letter);
    named.extend(id.bytes());
    Some(written(*letter, &sha256(&named)))
}

/// The code of a service record, from the leaf hashes of its entries in their order.
pub fn of_record(hashes: &[[u8; 32]]) -> String {
    let mut all = b"tarebook/record/v1\0".to_vec();
    all.extend(hashes.iter().flatten());
    written(RECORD, &sha256(&all))
}

fn written(letter: u8, hash: &[u8; 32]) -> String {
    let bits = hash[..4]
        .iter()
        .fold(0_u32, |bits, byte| bits << 8 | u32::from(*byte));
    let six = (0..6).map(|at| ALPHABET[(bits >> (27 - 5 * at) & 31) as usize]);
    let mut code: Vec<u8> = std::iter::once(letter).chain(six).collect();
    let check = check_character(&code).unwrap_or(b'0');
    code.push(check);
    code.into_iter().map(char::from).collect()
}

/// The code as people read it: `C-7K3-M9P-K`.
pub fn grouped(code: &str) -> String {
    let part = |from: usize, to: usize| code.get(from..to).unwrap_or_default();
    let parts = [part(0, 1), part(1, 4), part(4, 7), part(7, 8)];
    parts.join("-")
}

/// Reads what was typed; case, spaces and hyphens do not matter, and O is 0, I and L are 1.
pub fn read(typed: &str) -> Typed {
    let plain: Vec<u8> = typed
        .bytes()
        .filter(|byte| !b" -\t".contains(byte))
        .map(|byte| match byte.to_ascii_uppercase() {
            b'O' => b'0',
            b'I' | b'L' => b'1',
            other => other,
        })
        .collect();
    let letter = plain.first().copied().unwrap_or_default();
    let sort = LETTERS.iter().find(|(_, known)| *known == letter);
    let (Some((sort, _)), 8) = (sort, plain.len()) else {
        return Typed::Other;
    };
    match check_character(&plain[..7]) {
        Some(check) if check == plain[7] => {
            Typed::Code(*sort, plain.into_iter().map(char::from).collect())
        }
        Some(_) => Typed::Slip,
        None => Typed::Other,
    }
}

/// The sum over positions 1 to 7 of 2^position times the character, in the field of 32 elements
/// (x^5 + x^2 + 1).
fn check_character(seven: &[u8]) -> Option<u8> {
    let mut sum = 0_u8;
    // From the last to the first: each step doubles what is there already.
    for character in seven.iter().rev() {
        let symbol = ALPHABET.iter().position(|known| known == character)?;
        sum = doubled(sum ^ u8::try_from(symbol).ok()?);
    }
    Some(ALPHABET[usize::from(sum)])
}

fn doubled(element: u8) -> u8 {
    match element & 16 {
        0 => element << 1,
        _ => (element << 1) ^ 0b10_0101,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked with another program, from the definition above.
    #[test]
    fn check_characters_are_those_that_were_worked_out_elsewhere() {
        for (seven, check) in [("C7K3M9P", 'K'), ("A0000R7", 'W'), ("S5T2Q8D", 'C')] {
            let found = check_character(seven.as_bytes()).map(char::from);
            assert_eq!(found, Some(check), "{seven}");
        }
    }

    #[test]
    fn every_wrong_character_and_every_swap_is_a_slip() {
        let code = b"C7K3M9PK";
        for at in 1..8 {
            for other in ALPHABET.iter().filter(|other| **other != code[at]) {
                let mut wrong = *code;
                wrong[at] = *other;
                assert_eq!(read(std::str::from_utf8(&wrong).unwrap()), Typed::Slip);
            }
            for with in at + 1..8 {
                let mut swapped = *code;
                swapped.swap(at, with);
                let found = read(std::str::from_utf8(&swapped).unwrap());
                let same = swapped == *code;
                assert_eq!(found == Typed::Slip, !same, "{at} and {with}");
            }
        }
    }

    #[test]
    fn a_code_is_read_however_it_is_typed() {
        let code = Typed::Code(Sort::Cylinder, "C7K3M9PK".to_string());
        for typed in ["C7K3M9PK", "c-7k3-m9p-k", " C 7K3 M9P K "] {
            assert_eq!(read(typed), code, "{typed}");
        }
        let zeros = Typed::Code(Sort::Appliance, "A0000R7W".to_string());
        assert_eq!(read("a-ooo-or7-w"), zeros);
        for typed in [
            "TR-0417",
            "",
            "HG-RACK-A",
            "C7K3M9P",
            "X7K3M9PK",
            "Ä7K3M9PK",
        ] {
            assert_eq!(read(typed), Typed::Other, "{typed}");
        }
        assert_eq!(grouped("C7K3M9PK"), "C-7K3-M9P-K");
    }

    #[test]
    fn a_code_follows_from_sort_and_id_alone() {
        let (one, two) = (Id::from_bits(1), Id::from_bits(2));
        let code = of(Sort::Appliance, one).unwrap();
        assert_eq!(Some(&code), of(Sort::Appliance, one).as_ref());
        assert_eq!(read(&code), Typed::Code(Sort::Appliance, code.clone()));
        assert_ne!(of(Sort::Appliance, two), Some(code.clone()));
        assert_ne!(
            of(Sort::Cylinder, one).map(|it| it[1..].to_string()),
            Some(code[1..].to_string())
        );
        assert_eq!(of(Sort::Person, one), None);
        assert!(of_record(&[[1; 32]]).starts_with('R'));
    }
}
