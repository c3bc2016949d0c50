//! Which operations leave a record of what they changed: all that write, but for those that are listed
//! here with a reason.

/// Operations that leave none, and why.
pub(super) const UNRECORDED: [(&str, &str); 16] = [
    ("log_shots", "an entry of the ledger is its own record"),
    ("log_batch", "entries of the ledger are their own record"),
    ("preview_rule", "nothing is written"),
    ("answer_by_link", "nobody has a link here; `answers` looks at the record of one"),
    ("stop_mail", "nobody has a link here; `quiet` looks at the record of one"),
    ("set_up", "there is nothing before it, and whoever does it is the owner"),
    ("sign_in", "a credential"),
    ("refresh_access", "a credential"),
    ("sign_out", "a credential"),
    ("ask_reset", "a credential"),
    ("reset_password", "a credential"),
    ("accept_invitation", "a credential"),
    ("join_by_page", "a credential, as with `accept_invitation`"),
    ("reset_by_page", "a credential, as with `reset_password`"),
    ("change_password", "a credential"),
    ("send_invitation", "the mail is its record, and its link a credential"),
];

/// Whether an operation leaves a record.
pub(super) fn is_recorded(operation: &str) -> bool {
    !UNRECORDED.iter().any(|(unrecorded, _why)| *unrecorded == operation)
}
