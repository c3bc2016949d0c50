//! The mail half of the worker from outside: what is written, how it is packed, and what becomes
//! of it at a relay that behaves and at relays that do not. All people and clubs are invented.

#[cfg(test)]
mod calendar;
#[cfg(test)]
mod digest;
#[cfg(test)]
mod encryption;
#[cfg(test)]
mod fake_relay;
#[cfg(test)]
mod files;
#[cfg(test)]
mod golden;
#[cfg(test)]
mod letters;
#[cfg(test)]
mod links;
#[cfg(test)]
mod message;
#[cfg(test)]
mod notices;
#[cfg(test)]
mod relay;
#[cfg(test)]
mod samples;
