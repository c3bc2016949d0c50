//! Old string against new string. Knows readings and their meaning; nothing of who shot them or
//! where they are kept.
pub mod speed_loss;
