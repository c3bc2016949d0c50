//! A relay that follows RFC 5321 except where a test tells it not to. It listens on this machine
//! alone, knows no encryption, and notes down what it hears.

use std::{
    net::SocketAddr,
    sync::{Arc, Mutex},
};

use tokio::{
    io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader},
    net::{TcpListener, TcpStream},
    task::JoinHandle,
};

/// When the relay speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum At {
    Greeting,
    Ehlo,
    StartTls,
    Auth,
    Mail,
    Rcpt,
    Data,
    Dot,
    Quit,
}

/// What it then does.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Does {
    /// Answers this line.
    Says(&'static str),
    /// Never answers, and keeps the connection open for as long as the other side does.
    Hangs,
    /// Ends the connection.
    HangsUp,
}

/// A running relay; it stops with the test's runtime.
#[derive(Debug)]
pub(crate) struct FakeRelay {
    pub(crate) address: SocketAddr,
    heard: Arc<Mutex<Vec<String>>>,
    talks: JoinHandle<()>,
}

impl FakeRelay {
    /// Serves `talks` connections one after the other, well but for `odd`.
    pub(crate) async fn start(talks: usize, odd: &'static [(At, Does)]) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let heard = Arc::new(Mutex::new(Vec::new()));
        let notes = Arc::clone(&heard);
        let talks = tokio::spawn(async move {
            for _ in 0..talks {
                let (stream, _) = listener.accept().await.unwrap();
                let mut talk = Talk { stream: BufReader::new(stream), odd, heard: &notes };
                // Both sides may end a talk at any time.
                let _ = talk.run().await;
            }
        });
        Self { address, heard, talks }
    }

    pub(crate) fn url(&self) -> String {
        format!("smtp://{}", self.address)
    }

    /// All lines heard, once every talk is over.
    pub(crate) async fn heard(self) -> Vec<String> {
        self.talks.await.unwrap();
        self.heard.lock().unwrap().clone()
    }
}

struct Talk<'a> {
    stream: BufReader<TcpStream>,
    odd: &'static [(At, Does)],
    heard: &'a Mutex<Vec<String>>,
}

/// The talk is over.
struct Over;

impl From<std::io::Error> for Over {
    fn from(_: std::io::Error) -> Self {
        Self
    }
}

impl Talk<'_> {
    async fn run(&mut self) -> Result<(), Over> {
        self.act(At::Greeting, "220 relay.example ESMTP").await?;
        loop {
            let command = self.line().await?;
            let verb = command.split([' ', ':']).next().unwrap_or_default().to_ascii_uppercase();
            match verb.as_str() {
                "EHLO" => self.act(At::Ehlo, "250-relay.example\r\n250 AUTH PLAIN").await?,
                "STARTTLS" => self.act(At::StartTls, "502 5.5.1 no").await?,
                "AUTH" => self.act(At::Auth, "235 2.7.0 welcome").await?,
                "MAIL" => self.act(At::Mail, "250 2.1.0 sender ok").await?,
                "RCPT" => self.act(At::Rcpt, "250 2.1.5 recipient ok").await?,
                "DATA" => {
                    self.act(At::Data, "354 go on").await?;
                    if !self.odd.iter().any(|(at, _)| *at == At::Data) {
                        while self.line().await? != "." {}
                        self.act(At::Dot, "250 2.0.0 taken as A1").await?;
                    }
                }
                "QUIT" => {
                    self.act(At::Quit, "221 2.0.0 bye").await?;
                    return Ok(());
                }
                _ => self.say("500 5.5.2 what?").await?,
            }
        }
    }

    async fn act(&mut self, now: At, well: &str) -> Result<(), Over> {
        match self.odd.iter().find(|(at, _)| *at == now) {
            None => self.say(well).await,
            Some((_, Does::Says(line))) => self.say(line).await,
            Some((_, Does::HangsUp)) => Err(Over),
            Some((_, Does::Hangs)) => {
                self.stream.read_to_end(&mut Vec::new()).await?;
                Err(Over)
            }
        }
    }

    async fn say(&mut self, line: &str) -> Result<(), Over> {
        Ok(self.stream.get_mut().write_all(format!("{line}\r\n").as_bytes()).await?)
    }

    async fn line(&mut self) -> Result<String, Over> {
        let mut line = String::new();
        if self.stream.read_line(&mut line).await? == 0 {
            return Err(Over);
        }
        let line = line.trim_end_matches("\r\n").to_owned();
        self.heard.lock().unwrap().push(line.clone());
        Ok(line)
    }
}
