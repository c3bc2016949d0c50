//! Walks the way to a relay one step at a time and tells what came of each, for somebody who sets it
//! up. It goes by the same connection and the same checks as mail does, and keeps nothing.

use std::{net::SocketAddr, time::Duration};

use lettre::{
    Message,
    transport::smtp::{
        authentication::DEFAULT_MECHANISMS,
        client::AsyncSmtpConnection,
        commands::{Data, Ehlo, Mail, Rcpt},
    },
};
use tokio::{
    net::{TcpStream, lookup_host},
    time::timeout,
};

use super::{
    Transport,
    advice::{self, Advice},
    quote::quote,
    relay::Relay,
    relay_url::Privacy,
    verdict::{said, words},
};

/// A step on the way to a relay, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    /// Which step.
    pub step: &'static str,
    /// What was found, in one line; else what is wrong. No password is ever in it.
    pub outcome: Result<String, Fault>,
}

/// What is wrong at a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What happened, in one line.
    pub why: String,
    /// What to do next, in plain words.
    pub advice: String,
}

/// The way broke off, and whoever asked was told why.
struct Broken;

/// Somebody's walk to a relay.
struct Walk<'w> {
    relay: &'w Relay,
    limit: Duration,
    tell: &'w mut (dyn FnMut(Checked) + Send),
}

impl Transport {
    /// Walks the way to the relay, each step within `limit`, and hands over `message` if there is one.
    /// Each step is told as it is done; whether all of them went well. A folder has no such way.
    pub async fn probe(
        &self,
        message: Option<&Message>,
        limit: Duration,
        tell: &mut (dyn FnMut(Checked) + Send),
    ) -> bool {
        match self {
            Self::Files(_) => true,
            Self::Smtp(relay) => Walk { relay, limit, tell }.all(message).await.is_ok(),
        }
    }
}

impl Walk<'_> {
    async fn all(&mut self, message: Option<&Message>) -> Result<(), Broken> {
        let addresses = self.look_up().await?;
        let stream = self.connect(&addresses).await?;
        let mut connection = match &self.relay.url.privacy {
            Privacy::Tls(_) => self.greet_encrypted().await?,
            Privacy::None | Privacy::StartTls(_) => self.greet(stream).await?,
        };
        self.offers(&mut connection).await?;
        self.encrypt(&mut connection).await?;
        self.sign_in(&mut connection).await?;
        if let Some(message) = message {
            self.hand_over(&mut connection, message).await?;
        }
        let _ = timeout(self.limit, connection.abort()).await;
        Ok(())
    }

    /// Tells what came of a step.
    fn told<T>(
        &mut self,
        step: &'static str,
        outcome: Result<(String, T), (String, Advice)>,
    ) -> Result<T, Broken> {
        let (outcome, found) = match outcome {
            Ok((words, found)) => (Ok(quote(&words)), Ok(found)),
            Err((why, advice)) => {
                let advice = advice.words(&self.relay.url);
                (Err(Fault { why: quote(&why), advice }), Err(Broken))
            }
        };
        (self.tell)(Checked { step, outcome });
        found
    }

    fn silence(&self) -> String {
        format!("no answer within {} s", self.limit.as_secs_f64())
    }

    async fn look_up(&mut self) -> Result<Vec<SocketAddr>, Broken> {
        let server = (self.relay.url.host.as_str(), self.relay.url.port);
        let outcome = match timeout(self.limit, lookup_host(server)).await {
            Ok(Ok(found)) => {
                let found: Vec<SocketAddr> = found.collect();
                let named: Vec<String> = found.iter().map(|one| one.ip().to_string()).collect();
                Ok((format!("{} is {}", server.0, named.join(", ")), found))
            }
            Ok(Err(error)) => Err((error.to_string(), Advice::Name)),
            Err(_elapsed) => Err((self.silence(), Advice::Name)),
        };
        self.told("name", outcome)
    }

    async fn connect(&mut self, addresses: &[SocketAddr]) -> Result<TcpStream, Broken> {
        let outcome = match timeout(self.limit, TcpStream::connect(addresses)).await {
            Ok(Ok(stream)) => {
                let port = self.relay.url.port;
                Ok((format!("something listens on port {port}"), stream))
            }
            Ok(Err(error)) => Err((error.to_string(), Advice::Refused)),
            Err(_elapsed) => Err((self.silence(), Advice::Dropped)),
        };
        self.told("connection", outcome)
    }

    /// Reads the greeting without taking it, since the mail library wants to read it too; then says who
    /// we are.
    async fn greet(&mut self, stream: TcpStream) -> Result<AsyncSmtpConnection, Broken> {
        let outcome = match timeout(self.limit, first_line(&stream)).await {
            Ok(Ok(line)) if line.starts_with("220") => Ok((line, ())),
            Ok(Ok(line)) if line.starts_with(['4', '5']) => Err((line, Advice::TurnedAway)),
            Ok(Ok(line)) => Err((format!("not a relay's greeting: {line}"), Advice::NoRelay)),
            Ok(Err(error)) => Err((error.to_string(), Advice::NoRelay)),
            Err(_elapsed) => Err((self.silence(), Advice::Silent)),
        };
        self.told("greeting", outcome)?;
        let hello =
            AsyncSmtpConnection::connect_with_transport(Box::new(stream), &self.relay.hello_as);
        match timeout(self.limit, hello).await {
            Ok(Ok(connection)) => Ok(connection),
            Ok(Err(error)) => self.told("EHLO", Err((words(&error), Advice::Hello))),
            Err(_elapsed) => self.told("EHLO", Err((self.silence(), Advice::Hello))),
        }
    }

    async fn greet_encrypted(&mut self) -> Result<AsyncSmtpConnection, Broken> {
        let Privacy::Tls(tls) = &self.relay.url.privacy else { return Err(Broken) };
        let server = (self.relay.url.host.as_str(), self.relay.url.port);
        let connecting = AsyncSmtpConnection::connect_tokio1(
            server,
            Some(self.limit),
            &self.relay.hello_as,
            Some(tls.clone()),
            None,
        );
        let outcome = match timeout(self.limit, connecting).await {
            Ok(Ok(connection)) => Ok((self.encrypted(), connection)),
            Ok(Err(error)) if error.status().is_some() => {
                self.told("encryption", Ok((self.encrypted(), ())))?;
                return self.told("greeting", Err((words(&error), Advice::TurnedAway)));
            }
            Ok(Err(error)) => Err((words(&error), advice::of_tls(&error.to_string()))),
            Err(_elapsed) => Err((self.silence(), Advice::NotTls)),
        };
        self.told("encryption", outcome)
    }

    fn encrypted(&self) -> String {
        let host = &self.relay.url.host;
        format!("TLS 1.2 or later, with a certificate that holds for {host}")
    }

    /// Says who we are once more, to see all that the relay offers.
    async fn offers(&mut self, connection: &mut AsyncSmtpConnection) -> Result<(), Broken> {
        let hello = connection.command(Ehlo::new(self.relay.hello_as.clone()));
        let outcome = match timeout(self.limit, hello).await {
            Ok(Ok(answer)) => {
                let offers: Vec<&str> = answer.message().skip(1).collect();
                Ok((format!("the relay offers {}", offers.join(", ")), ()))
            }
            Ok(Err(error)) => Err((words(&error), Advice::Hello)),
            Err(_elapsed) => Err((self.silence(), Advice::Hello)),
        };
        self.told("EHLO", outcome)
    }

    async fn encrypt(&mut self, connection: &mut AsyncSmtpConnection) -> Result<(), Broken> {
        let tls = match &self.relay.url.privacy {
            Privacy::Tls(_) => return Ok(()),
            Privacy::None => {
                let words = "none: smtp:// is for a relay on this machine or network";
                return self.told("encryption", Ok((words.to_owned(), ())));
            }
            Privacy::StartTls(tls) => tls.clone(),
        };
        if !connection.can_starttls() {
            let why = "the relay does not offer STARTTLS".to_owned();
            return self.told("encryption", Err((why, Advice::NoStartTls)));
        }
        let starting = connection.starttls(tls, &self.relay.hello_as);
        let outcome = match timeout(self.limit, starting).await {
            Ok(Ok(())) => Ok((self.encrypted(), ())),
            Ok(Err(error)) => Err((words(&error), advice::of_tls(&error.to_string()))),
            Err(_elapsed) => Err((self.silence(), Advice::Tls)),
        };
        self.told("encryption", outcome)
    }

    async fn sign_in(&mut self, connection: &mut AsyncSmtpConnection) -> Result<(), Broken> {
        let Some(credentials) = &self.relay.url.credentials else {
            return self.told("sign-in", Ok(("none: the URL has no user".to_owned(), ())));
        };
        let outcome = match timeout(self.limit, connection.auth(DEFAULT_MECHANISMS, credentials))
            .await
        {
            Ok(Ok(answer)) => Ok((said(&answer), ())),
            Ok(Err(error)) if error.status().is_some() => Err((words(&error), Advice::Password)),
            Ok(Err(error)) => Err((words(&error), Advice::NoSignIn)),
            Err(_elapsed) => Err((self.silence(), Advice::NoSignIn)),
        };
        self.told("sign-in", outcome)
    }

    async fn hand_over(
        &mut self,
        connection: &mut AsyncSmtpConnection,
        message: &Message,
    ) -> Result<(), Broken> {
        let from = Mail::new(self.relay.sender(message), vec![]);
        self.says("MAIL FROM", connection, from, Advice::Sender).await?;
        for recipient in message.envelope().to() {
            let to = Rcpt::new(recipient.clone(), vec![]);
            self.says("RCPT TO", connection, to, Advice::Recipient).await?;
        }
        self.says("DATA", connection, Data, Advice::Message).await?;
        let outcome = match timeout(self.limit, connection.message(&message.formatted())).await {
            Ok(Ok(answer)) => Ok((said(&answer), ())),
            Ok(Err(error)) => Err((words(&error), Advice::Message)),
            Err(_elapsed) => Err((self.silence(), Advice::Message)),
        };
        self.told("test message", outcome)
    }

    async fn says(
        &mut self,
        step: &'static str,
        connection: &mut AsyncSmtpConnection,
        command: impl std::fmt::Display,
        advice: Advice,
    ) -> Result<(), Broken> {
        let outcome = match timeout(self.limit, connection.command(command)).await {
            Ok(Ok(answer)) => Ok((said(&answer), ())),
            Ok(Err(error)) if error.status().map(u16::from) == Some(530) => {
                Err((words(&error), Advice::SignInFirst))
            }
            Ok(Err(error)) => Err((words(&error), advice)),
            Err(_elapsed) => Err((self.silence(), advice)),
        };
        self.told(step, outcome)
    }
}

/// The first line that comes, left where it is.
async fn first_line(stream: &TcpStream) -> std::io::Result<String> {
    let mut bytes = [0; 512];
    let mut seen = 0;
    loop {
        let read = stream.peek(&mut bytes).await?;
        let line = bytes.get(..read).unwrap_or_default();
        if line.contains(&b'\n') || read == bytes.len() || (read == seen && read == 0) {
            let line = line.split(|byte| *byte == b'\n').next().unwrap_or_default();
            return match line {
                [] => Err(std::io::Error::other("the other side closed the connection")),
                line => Ok(String::from_utf8_lossy(line).trim_end().to_owned()),
            };
        }
        seen = read;
        // Peeking does not wait for more than there was.
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}
