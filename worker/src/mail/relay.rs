//! Talks to a relay step by step, so that it is known how far a talk had come when it broke off:
//! that decides between "nobody has the message" and "somebody may have it".

use std::{fmt, time::Duration};

use lettre::{
    Message,
    transport::smtp::{
        Error,
        authentication::DEFAULT_MECHANISMS,
        client::AsyncSmtpConnection,
        commands::{Data, Mail, Rcpt},
        extension::ClientId,
        response::{Response, Severity},
    },
};
use tokio::{
    sync::Semaphore,
    time::{Instant, timeout, timeout_at},
};

use super::{
    Receipt, SendError,
    quote::quote,
    relay_url::{Privacy, RelayUrl},
};

/// So many messages are on their way to a relay at a time.
pub const AT_ONCE: u32 = 4;

/// How long a relay may take to say goodbye, once it has answered for the message.
const GOODBYE_LIMIT: Duration = Duration::from_secs(2);

/// A relay.
#[derive(Debug)]
pub struct Relay {
    url: RelayUrl,
    hello_as: ClientId,
    limit: Duration,
    slots: Semaphore,
}

/// How far a talk has come (RFC 5321, section 4.1.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    Connect,
    Encrypt,
    SignIn,
    Sender,
    Recipient,
    Data,
    Message,
}

/// Why a talk broke off.
enum Trouble {
    /// A refusal, or the connection failed.
    Failed(Error),
    /// An answer that has no place at this step.
    OutOfPlace(Response),
}

impl Relay {
    pub(super) fn new(url: RelayUrl, limit: Duration) -> Self {
        let slots = Semaphore::new(AT_ONCE as usize);
        Self { url, hello_as: ClientId::default(), limit, slots }
    }

    /// Hands over a message to all of its recipients, or to none.
    pub(super) async fn send(&self, message: &Message) -> Result<Receipt, SendError> {
        let slot = self.slots.acquire().await;
        let _slot = slot.map_err(|closed| SendError::Retry(closed.to_string()))?;
        let deadline = Instant::now() + self.limit;
        let mut step = Step::Connect;
        let connected = timeout_at(deadline, self.connect(&mut step)).await;
        let mut connection = match connected {
            Ok(Ok(connection)) => connection,
            Ok(Err(error)) => return Err(judge(step, &Trouble::Failed(error))),
            Err(_elapsed) => return Err(self.too_slow(step)),
        };
        let handed = timeout_at(deadline, hand_over(&mut connection, message, &mut step)).await;
        let Ok(answer) = handed else { return Err(self.too_slow(step)) };
        // The relay has had its say about the message. Whether it says goodbye changes nothing.
        let _ = timeout(GOODBYE_LIMIT, connection.abort()).await;
        match answer {
            Ok(taken) => Ok(Receipt { answer: said(&taken) }),
            Err(trouble) => Err(judge(step, &trouble)),
        }
    }

    /// Gets to where the relay listens to us: connected, private and signed in as the URL asks.
    async fn connect(&self, step: &mut Step) -> Result<AsyncSmtpConnection, Error> {
        let tls = match &self.url.privacy {
            Privacy::Tls(tls) => Some(tls.clone()),
            Privacy::None | Privacy::StartTls(_) => None,
        };
        let server = (self.url.host.as_str(), self.url.port);
        let mut connection = AsyncSmtpConnection::connect_tokio1(
            server,
            Some(self.limit),
            &self.hello_as,
            tls,
            None,
        )
        .await?;
        if let Privacy::StartTls(tls) = &self.url.privacy {
            *step = Step::Encrypt;
            // Fails where the relay does not offer it: there is no way on in clear text.
            connection.starttls(tls.clone(), &self.hello_as).await?;
        }
        if let Some(credentials) = &self.url.credentials {
            *step = Step::SignIn;
            connection.auth(DEFAULT_MECHANISMS, credentials).await?;
        }
        Ok(connection)
    }

    fn too_slow(&self, step: Step) -> SendError {
        let words = format!("{step}: no answer within {} s", self.limit.as_secs_f64());
        if step == Step::Message { SendError::Uncertain(words) } else { SendError::Retry(words) }
    }
}

async fn hand_over(
    connection: &mut AsyncSmtpConnection,
    message: &Message,
    step: &mut Step,
) -> Result<Response, Trouble> {
    let envelope = message.envelope();
    *step = Step::Sender;
    completed(connection.command(Mail::new(envelope.from().cloned(), vec![])).await?)?;
    *step = Step::Recipient;
    for recipient in envelope.to() {
        completed(connection.command(Rcpt::new(recipient.clone(), vec![])).await?)?;
    }
    *step = Step::Data;
    let go_on = connection.command(Data).await?;
    if !go_on.has_code(354) {
        return Err(Trouble::OutOfPlace(go_on));
    }
    // The library writes the message and its final dot in one go, so a connection lost before the
    // dot counts as lost after it: a second copy is better than none.
    *step = Step::Message;
    completed(connection.message(&message.formatted()).await?)
}

/// Passes a 2xx answer; the library also lets 3xx pass.
fn completed(response: Response) -> Result<Response, Trouble> {
    if response.code().severity == Severity::PositiveCompletion {
        Ok(response)
    } else {
        Err(Trouble::OutOfPlace(response))
    }
}

/// What has become of a message, from where the talk broke off and why.
///
/// A 5xx is about the message only from MAIL on. Before that it is about the connection or our
/// password, as is 530 (sign in first, RFC 4954) at any step: a person mends the settings, and
/// the messages wait.
fn judge(step: Step, trouble: &Trouble) -> SendError {
    let words = quote(&format!("{step}: {trouble}"));
    match trouble {
        Trouble::Failed(error) if error.is_permanent() => {
            let sign_in_first = error.status().is_some_and(|code| u16::from(code) == 530);
            if step >= Step::Sender && !sign_in_first {
                SendError::Dead(words)
            } else {
                SendError::Retry(words)
            }
        }
        Trouble::Failed(error) if error.is_transient() => SendError::Retry(words),
        _ if step == Step::Message => SendError::Uncertain(words),
        _ => SendError::Retry(words),
    }
}

/// A relay's answer on one line.
fn said(response: &Response) -> String {
    let lines: Vec<&str> = response.message().collect();
    quote(&format!("{} {}", response.code(), lines.join(" ")))
}

impl From<Error> for Trouble {
    fn from(error: Error) -> Self {
        Self::Failed(error)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Failed(error) => match (error.status(), std::error::Error::source(error)) {
                (Some(code), Some(answer)) => write!(f, "{code} {answer}"),
                _ => error.fmt(f),
            },
            Self::OutOfPlace(response) => write!(f, "unexpected answer {}", said(response)),
        }
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Connect => "connecting",
            Self::Encrypt => "STARTTLS",
            Self::SignIn => "AUTH",
            Self::Sender => "MAIL FROM",
            Self::Recipient => "RCPT TO",
            Self::Data => "DATA",
            Self::Message => "after the message",
        })
    }
}
