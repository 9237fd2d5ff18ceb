//! Brakes on guessing: how long an address waits after failures, and how many failures an address
//! of the network and all together may cause in a minute.
//!
//! The waits of people's addresses follow from counts in the database; those of the network are
//! kept here, in bounded memory, and begin anew every minute. The limit by network address is
//! coarse, because a crew shares one.

use super::door::{MINUTE, SECOND};
use std::collections::HashMap;
use std::net::{IpAddr, Ipv6Addr};

/// Failures after which an address begins to wait.
const FREE: i64 = 5;
/// Longest wait, in seconds.
const LONGEST: u32 = 15 * 60;
/// Never more consecutive failures than this without an administrator's help or a known browser
/// (NIST SP 800-63B-4, as reported).
const MOST: i64 = 100;
/// Failures in a known browser after which it counts as unknown.
pub const MOST_ON_DEVICE: i64 = 5;
/// Failures from one address of the network in a minute.
const BY_SOURCE: u32 = 60;
/// Failures altogether in a minute.
const ALTOGETHER: u32 = 1_200;
/// Addresses of the network that are told apart within a minute; the others share one count.
const MOST_SOURCES: usize = 10_000;

/// Seconds until the next attempt is looked at, after so many failures, the last one at `last`.
pub fn wait(failures: i64, last: i64, now: i64) -> u32 {
    if failures < FREE {
        return 0;
    }
    if failures >= MOST {
        return LONGEST;
    }
    let doubled = u32::try_from(failures - FREE).unwrap_or(0).min(10);
    let delay = (1_u32 << doubled).min(LONGEST);
    let left = last + i64::from(delay) * SECOND - now;
    // A clock that was set back must not make the wait longer than it was meant.
    u32::try_from((left + SECOND - 1) / SECOND).map_or(0, |left| left.min(delay))
}

/// The part of a network address that is counted: all of IPv4, the first 64 bits of IPv6, which
/// one customer has whole.
pub fn counted(source: &str) -> String {
    let network = |v6: Ipv6Addr| {
        let kept = v6.to_bits() >> 64 << 64;
        format!("{}/64", Ipv6Addr::from_bits(kept))
    };
    match source.parse::<IpAddr>() {
        Ok(IpAddr::V4(v4)) => v4.to_string(),
        Ok(IpAddr::V6(v6)) => v6
            .to_ipv4_mapped()
            .map_or_else(|| network(v6), |v4| v4.to_string()),
        Err(_) => "unknown".to_string(),
    }
}

/// Failures of this minute.
#[derive(Debug, Default)]
pub struct Throttle {
    minute: i64,
    altogether: u32,
    by_source: HashMap<String, u32>,
}

impl Throttle {
    /// Counts an attempt as failed, or says in how many seconds it may be made.
    pub fn admit(&mut self, source: &str, now: i64) -> Result<(), u32> {
        let minute = now.div_euclid(MINUTE);
        if minute != self.minute {
            *self = Throttle {
                minute,
                ..Throttle::default()
            };
        }
        let count = self.count(source);
        if *count >= BY_SOURCE || self.altogether >= ALTOGETHER {
            let left = MINUTE - now.rem_euclid(MINUTE);
            return Err(u32::try_from((left + SECOND - 1) / SECOND).unwrap_or(60));
        }
        *self.count(source) += 1;
        self.altogether += 1;
        Ok(())
    }

    /// Takes the count of an attempt back that was no failure.
    pub fn forgive(&mut self, source: &str, now: i64) {
        if now.div_euclid(MINUTE) == self.minute {
            let count = self.count(source);
            *count = count.saturating_sub(1);
            self.altogether = self.altogether.saturating_sub(1);
        }
    }

    fn count(&mut self, source: &str) -> &mut u32 {
        let counted = counted(source);
        let full = self.by_source.len() >= MOST_SOURCES && !self.by_source.contains_key(&counted);
        let counted = if full { "others".to_string() } else { counted };
        self.by_source.entry(counted).or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The waits of the design: none for five failures, then 1 s doubling to 15 min; 100 is the end.
    #[test]
    fn a5_waits_double_from_a_second_to_a_quarter_of_an_hour() {
        let waits: Vec<u32> = (0..18).map(|failures| wait(failures, 0, 0)).collect();
        let expected = [
            0, 0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900,
        ];
        assert_eq!(waits, expected);
        assert_eq!(wait(99, 0, 900 * SECOND), 0, "the longest wait passes");
        assert_eq!(wait(100, 0, i64::MAX / 2), 900, "a hundred never does");
        assert_eq!(wait(10, 0, 31 * SECOND + 1), 1, "part of a second is one");
        assert_eq!(
            wait(10, 500 * SECOND, 0),
            32,
            "a clock set back adds nothing"
        );
    }

    #[test]
    fn addresses_of_the_network_are_counted_by_customer() {
        for (source, key) in [
            ("192.0.2.7", "192.0.2.7"),
            ("::ffff:192.0.2.7", "192.0.2.7"),
            ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
            ("2001:db8:1:2:ffff::", "2001:db8:1:2::/64"),
            ("nonsense", "unknown"),
        ] {
            assert_eq!(counted(source), key);
        }
    }

    #[test]
    fn a_minute_holds_sixty_failures_of_one_source_and_forgets_them() {
        let mut throttle = Throttle::default();
        for _ in 0..60 {
            throttle.admit("192.0.2.7", 0).unwrap();
        }
        assert_eq!(throttle.admit("192.0.2.7", 10 * SECOND), Err(50));
        throttle.admit("192.0.2.8", 10 * SECOND).unwrap();
        throttle.forgive("192.0.2.7", 20 * SECOND);
        throttle.admit("192.0.2.7", 20 * SECOND).unwrap();
        throttle.admit("192.0.2.7", 60 * SECOND).unwrap();
    }

    #[test]
    fn all_sources_together_have_a_limit_and_memory_is_bounded() {
        let mut throttle = Throttle::default();
        let source = |n: u32| std::net::Ipv4Addr::from_bits(n).to_string();
        let admitted = (0..50_000).filter(|n| throttle.admit(&source(*n), 0).is_ok());
        assert_eq!(admitted.count(), 1_200);
        assert!(throttle.by_source.len() <= MOST_SOURCES + 1);
    }
}
