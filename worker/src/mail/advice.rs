//! What to do next where the way to a relay breaks off, in plain words. It talks to nobody.

use super::relay_url::{Privacy, RelayUrl};

/// What went wrong, as far as it decides what to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Advice {
    Name,
    Refused,
    Dropped,
    Silent,
    NoRelay,
    TurnedAway,
    Hello,
    NoStartTls,
    NotTls,
    OtherName,
    UnknownAuthority,
    Expired,
    Tls,
    Password,
    NoSignIn,
    SignInFirst,
    Sender,
    Recipient,
    Message,
}

/// What a failed handshake means, by the words of the TLS library.
pub(super) fn of_tls(said: &str) -> Advice {
    let has = |words: &str| said.contains(words);
    if has("not valid for name") || has("NotValidForName") {
        Advice::OtherName
    } else if has("UnknownIssuer") || has("BadSignature") {
        Advice::UnknownAuthority
    } else if has("expired") || has("Expired") {
        Advice::Expired
    } else if has("InvalidContentType") || has("corrupt message") {
        Advice::NotTls
    } else {
        Advice::Tls
    }
}

impl Advice {
    /// The advice, for a relay at that URL.
    pub(super) fn words(self, url: &RelayUrl) -> String {
        let encrypted_from_the_start = matches!(url.privacy, Privacy::Tls(_));
        match self {
            Self::Name => "check how the host is spelt in TAUTLINE_SMTP_URL, and that this machine can \
                           look names up",
            Self::Refused => "check host and port: relays take mail from programs on port 587 \
                              (smtp+starttls://) or 465 (smtps://), and a firewall may be in between",
            Self::Dropped => "a firewall may be in between: many networks let nothing out to port 25; try \
                              587 (smtp+starttls://) or 465 (smtps://)",
            Self::Silent if url.port == 465 => {
                "port 465 speaks TLS from the start: use smtps:// in TAUTLINE_SMTP_URL"
            }
            Self::Silent => "a relay that speaks TLS from the start waits for us to begin: if this port \
                             does, use smtps:// in TAUTLINE_SMTP_URL; else ask whoever runs the relay",
            Self::NoRelay => "what listens there is no mail relay; check host and port",
            Self::TurnedAway => "the relay turns this machine away: ask whoever runs it whether this \
                                 machine's address may send mail through it",
            Self::Hello => "the relay does not like how this machine calls itself: give the machine a full \
                            host name, or ask whoever runs the relay",
            Self::NoStartTls => "nothing is sent in clear text; if the relay encrypts from the start, use \
                                 smtps:// and its port, usually 465",
            Self::NotTls if encrypted_from_the_start => {
                "this port does not speak TLS from the start: use smtp+starttls:// and its port, usually \
                 587"
            }
            Self::NotTls | Self::Tls => "the relay could not agree on TLS with us. A certificate of your own \
                                         making must be for this host, must not be an authority itself \
                                         (CA:FALSE), and its issuer's file is named in SSL_CERT_FILE; else \
                                         ask whoever runs the relay",
            Self::OtherName => "the certificate is for another name: write the host in TAUTLINE_SMTP_URL \
                                as the certificate has it",
            Self::UnknownAuthority => "this machine does not know who issued the certificate: install the \
                                       issuer's certificate here, or name its file in SSL_CERT_FILE",
            Self::Expired => "the certificate has run out: whoever runs the relay renews it; check this \
                              machine's clock too",
            Self::Password => "check user and password in TAUTLINE_SMTP_URL; marks such as @ : / in them \
                               are percent-encoded",
            Self::NoSignIn => "the relay does not let anybody sign in there: check the port, or leave user \
                               and password out if it needs none",
            Self::SignInFirst => "the relay wants a sign-in: put user and password into TAUTLINE_SMTP_URL",
            Self::Sender => "the relay does not take mail from this address: set TAUTLINE_MAIL_FROM, or \
                             TAUTLINE_MAIL_RETURN_PATH, to one that the account may send from",
            Self::Recipient => "if the address is right, the relay does not pass mail on for us: it may \
                                want a sign-in, or know this machine's address first",
            Self::Message => "the relay's words say why; ask whoever runs it",
        }
        .to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_silent_port_465_is_told_to_speak_tls_from_the_start() {
        let url = |text| RelayUrl::parse(text).unwrap();
        let silent = |text| Advice::Silent.words(&url(text));
        assert!(silent("smtp+starttls://mail.example:465").contains("port 465 speaks TLS"));
        assert!(silent("smtp+starttls://mail.example").contains("if this port does, use smtps://"));
        let plain = Advice::NotTls.words(&url("smtps://mail.example:587"));
        assert!(plain.contains("use smtp+starttls://"), "{plain}");
    }
}
