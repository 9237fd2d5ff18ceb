//! Region codes: which texts name a country or a part of one.
//!
//! A code is that of ISO 3166-1 (`US`), with the part of ISO 3166-2 (`US-CO`) and a county of it
//! (`US-CO-101`), or `EU`, which ISO 3166-1 reserves for the European Union. Parts are looked at by
//! their shape alone: their list changes every year, and a law may name one that is new.

/// The countries of ISO 3166-1, as the time-zone database lists them (`iso3166.tab`, in the public
/// domain; current as of ISO/TC 46 N1108 of 2023-04-05).
const COUNTRIES: &str = "\
    AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN \
    BO BQ BR BS BT BV BW BY BZ CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ \
    DE DJ DK DM DO DZ EC EE EG EH ER ES ET FI FJ FK FM FO FR GA GB GD GE GF GG GH GI GL \
    GM GN GP GQ GR GS GT GU GW GY HK HM HN HR HT HU ID IE IL IM IN IO IQ IR IS IT JE JM \
    JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME \
    MF MG MH MK ML MM MN MO MP MQ MR MS MT MU MV MW MX MY MZ NA NC NE NF NG NI NL NO NP \
    NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT PW PY QA RE RO RS RU RW SA SB SC SD \
    SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG TH TJ TK TL TM TN TO \
    TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS YE YT ZA ZM ZW";

/// What a region code looks like, for messages.
pub const SHAPE: &str = "an ISO 3166 code such as US, US-CO or US-CO-101, or EU";

/// Whether a text names a country or a part of one.
pub fn is_region(code: &str) -> bool {
    let mut parts = code.split('-');
    let country = parts.next().unwrap_or_default();
    let part = |part: &str| {
        let letters = |byte: u8| byte.is_ascii_uppercase() || byte.is_ascii_digit();
        (1..=3).contains(&part.len()) && part.bytes().all(letters)
    };
    let known = country == "EU" || COUNTRIES.split(' ').any(|known| known == country);
    known && parts.clone().count() <= 2 && parts.all(part)
}

/// Whether a code is another one, or a part of it.
pub fn holds(whole: &str, part: &str) -> bool {
    let rest = part.strip_prefix(whole);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 3166-1: GB is the United Kingdom; UK is only reserved, ZZ is for private use.
    #[test]
    fn a_region_is_a_known_country_with_parts() {
        for good in ["US", "US-CO", "US-CO-101", "EU", "EU-DE", "GB-NIR", "JP-13"] {
            assert!(is_region(good), "{good}");
        }
        for bad in [
            "",
            "UK",
            "ZZ",
            "us-co",
            "US-",
            "US-COLO",
            "Colorado",
            "US-CO-101-7",
        ] {
            assert!(!is_region(bad), "{bad}");
        }
        assert!(holds("US-CO", "US-CO-101") && !holds("US-C", "US-CO"));
    }
}
