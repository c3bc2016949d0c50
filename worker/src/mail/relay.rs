//! Talks to a relay step by step, so that it is known how far a talk had come when it broke off:
//! that decides between "nobody has the message" and "somebody may have it".

use std::time::Duration;

use lettre::{
    Address, Message,
    transport::smtp::{
        Error,
        authentication::DEFAULT_MECHANISMS,
        client::AsyncSmtpConnection,
        commands::{Data, Mail, Rcpt},
        extension::ClientId,
        response::Response,
    },
};
use tokio::{
    sync::Semaphore,
    time::{Instant, timeout, timeout_at},
};

use super::{
    Partly, Receipt, Refusal, SendError,
    quote::quote,
    relay_url::{Privacy, RelayUrl},
    verdict::{Step, Trouble, completed, judge, said},
};

/// So many messages are on their way to a relay at a time.
pub const AT_ONCE: u32 = 4;

/// How long a relay may take to say goodbye, once it has answered for the message.
const GOODBYE_LIMIT: Duration = Duration::from_secs(2);

/// A relay.
#[derive(Debug)]
pub struct Relay {
    pub(super) url: RelayUrl,
    pub(super) hello_as: ClientId,
    limit: Duration,
    slots: Semaphore,
    /// Who is told of a failure, if not whom the message is from.
    return_path: Option<Address>,
}

/// What is handed over, and to whom.
struct Handing<'m> {
    from: Option<Address>,
    to: &'m [Address],
    partly: Partly,
    message: Vec<u8>,
}

/// A message that the relay took, and the recipients that it did not take it for.
struct Taken {
    answer: Response,
    refused: Vec<Refusal>,
}

impl Relay {
    pub(super) fn new(url: RelayUrl, limit: Duration) -> Self {
        let slots = Semaphore::new(AT_ONCE as usize);
        Self { url, hello_as: ClientId::default(), limit, slots, return_path: None }
    }

    /// The same, with failures told to another address than the sender's.
    pub(super) fn returning_to(self, address: Address) -> Self {
        Self { return_path: Some(address), ..self }
    }

    /// Hands over a message to those of its recipients that the relay takes.
    pub(super) async fn send(
        &self,
        message: &Message,
        partly: Partly,
    ) -> Result<Receipt, SendError> {
        let slot = self.slots.acquire().await;
        let _slot = slot.map_err(|closed| SendError::Retry(closed.to_string()))?;
        let envelope = message.envelope();
        let (to, deadline) = (envelope.to(), Instant::now() + self.limit);
        let from = self.sender(message);
        let handing = Handing { from, to, partly, message: message.formatted() };
        let mut step = Step::Connect;
        let too_slow = || Trouble::TooSlow(self.limit.as_secs_f64());
        let connected = timeout_at(deadline, self.connect(&mut step)).await;
        let mut connection = match connected {
            Ok(Ok(connection)) => connection,
            Ok(Err(error)) => return Err(judge(step, Trouble::Failed(error), to.len())),
            Err(_elapsed) => return Err(judge(step, too_slow(), to.len())),
        };
        let handed = timeout_at(deadline, hand_over(&mut connection, &handing, &mut step)).await;
        let Ok(taken) = handed else { return Err(judge(step, too_slow(), to.len())) };
        // The relay has had its say about the message. Whether it says goodbye changes nothing.
        let _ = timeout(GOODBYE_LIMIT, connection.abort()).await;
        taken.map(Receipt::from).map_err(|trouble| judge(step, trouble, to.len()))
    }

    /// Whom the relay tells of a failure.
    pub(super) fn sender(&self, message: &Message) -> Option<Address> {
        self.return_path.clone().or_else(|| message.envelope().from().cloned())
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
}

async fn hand_over(
    connection: &mut AsyncSmtpConnection,
    handing: &Handing<'_>,
    step: &mut Step,
) -> Result<Taken, Trouble> {
    *step = Step::Sender;
    completed(connection.command(Mail::new(handing.from.clone(), vec![])).await?)?;
    *step = Step::Recipient;
    let mut refused = Vec::new();
    for recipient in handing.to {
        match connection.command(Rcpt::new(recipient.clone(), vec![])).await {
            Ok(answer) => drop(completed(answer)?),
            Err(error) => match Refusal::of(recipient, &error) {
                Some(refusal) => refused.push(refusal),
                None => return Err(error.into()),
            },
        }
    }
    let waits = handing.partly == Partly::Wait && refused.iter().any(|one| !one.for_good);
    if waits || refused.len() == handing.to.len() {
        return Err(Trouble::Refused(refused));
    }
    *step = Step::Data;
    let go_on = connection.command(Data).await?;
    if !go_on.has_code(354) {
        return Err(Trouble::OutOfPlace(go_on));
    }
    // The library writes the message and its final dot in one go, so a connection lost before the
    // dot counts as lost after it: a second copy is better than none.
    *step = Step::Message;
    let answer = completed(connection.message(&handing.message).await?)?;
    Ok(Taken { answer, refused })
}

impl From<Taken> for Receipt {
    fn from(Taken { answer, refused }: Taken) -> Self {
        let mut words = said(&answer);
        if !refused.is_empty() {
            words = format!("{words}; not for {}", Refusal::words(&refused, usize::MAX));
        }
        Self { answer: quote(&words), refused }
    }
}
