//! Importing three files.

/// Which table a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// Appliances and the sites they stand at.
    Appliances,
    /// Cylinders.
    Cylinders,
    /// Movements of refrigerant.
    Movements,
}
