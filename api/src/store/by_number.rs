//! Maps by place numbers and ids.
//!
//! Every posting looks the same few things up many times. A fast hash with a seed of its own for
//! every map is enough, and costs a fraction of the standard one.

use std::collections::HashMap;

/// A map by a number or an id.
pub type ByNumber<K, V> = HashMap<K, V, foldhash::fast::RandomState>;
