//! Refrigerants: designation, class, blends, GWP by dated basis, and the dated lists of the law.
