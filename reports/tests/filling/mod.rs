//! A request for the fill limit of a bare cylinder, as the tests of filling ask it.

use reports::physics::{Content, FillRequest, WaterCapacity};

/// Of this content, in a cylinder of this water capacity.
pub fn request(content: Content, number: &str, unit: &str) -> FillRequest {
    FillRequest {
        content,
        water_capacity: WaterCapacity::read("water_capacity", number, unit).expect("read"),
        tare: None,
        water_capacity_confirmed: false,
        marking: None,
        shop_rules: false,
    }
}
