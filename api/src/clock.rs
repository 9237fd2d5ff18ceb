//! The only place that asks what time it is.

use std::time::{SystemTime, UNIX_EPOCH};

/// Microseconds since 1970, by the host's clock.
pub fn now() -> i64 {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    i64::try_from(since.as_micros()).unwrap_or(i64::MAX)
}
