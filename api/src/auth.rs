//! Who is asking. For now: how passwords are kept; sign-ins and tokens come with the service.

pub mod password;
