//! What happens with time rather than on request. For now: rendering mail and handing it over.

pub mod mail;
