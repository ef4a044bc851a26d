//! A real browser without a window, and a person at the simulated head who reads the sheet from the feed.

use crate::bench::{LONG, SimulatedHead};
use crate::place::kept;
use clinoblade::bench::conductor::{Sheet, hands};
use clinoblade::guide::{Instruction, Phase};
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Where the pictures of a run are put, to be looked at.
pub fn pictures() -> PathBuf {
    kept("page")
}

/// The driver of the browser, ended with the test.
pub struct Driver {
    child: Child,
    port: u16,
    folders: Mutex<Vec<tempfile::TempDir>>,
}

impl Driver {
    pub fn start() -> Self {
        // A port that is free now; whoever takes it meanwhile makes the test fail, not lie.
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let child = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the tests of the page need chromedriver (Debian: chromium-driver)");
        let deadline = Instant::now() + LONG;
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(Instant::now() < deadline, "chromedriver does not answer");
            std::thread::sleep(Duration::from_millis(50));
        }
        Self { child, port, folders: Mutex::new(Vec::new()) }
    }

    /// A browser window of this size.
    pub async fn window(&self, width: u32, height: u32) -> Window {
        let folder = tempfile::tempdir().unwrap();
        let arguments = json!([
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            format!("--window-size={width},{height}"),
            format!("--user-data-dir={}", folder.path().display()),
        ]);
        let options = json!({ "args": arguments });
        let mut wishes = serde_json::Map::new();
        wishes.insert("browserName".into(), "chrome".into());
        wishes.insert("goog:chromeOptions".into(), options);
        wishes.insert("goog:loggingPrefs".into(), json!({ "browser": "ALL", "performance": "ALL" }));
        self.folders.lock().unwrap().push(folder);
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(wishes)
            .connect(&format!("http://127.0.0.1:{}", self.port))
            .await
            .unwrap();
        let window = Window { client };
        window
            .devtools(
                "Emulation.setDeviceMetricsOverride",
                json!({
                    "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600
                }),
            )
            .await;
        window
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A command that the driver has beside the standard's.
#[derive(Debug)]
struct Extra {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extra {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.path))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

/// One window.
pub struct Window {
    pub client: Client,
}

impl Window {
    pub async fn open(&self, url: &str) {
        self.client.goto(url).await.unwrap();
    }

    pub async fn devtools(&self, command: &str, parameters: Value) -> Value {
        let body = json!({ "cmd": command, "params": parameters });
        self.client.issue_cmd(Extra { path: "goog/cdp/execute", body }).await.unwrap()
    }

    pub async fn dark(&self) {
        let features = json!([{ "name": "prefers-color-scheme", "value": "dark" }]);
        self.devtools("Emulation.setEmulatedMedia", json!({ "features": features })).await;
    }

    pub async fn text(&self, selector: &str) -> String {
        self.client.find(Locator::Css(selector)).await.unwrap().text().await.unwrap()
    }

    /// Clicks on an element as soon as it is there; once more where the page drew it anew in between.
    pub async fn click(&self, selector: &str) {
        let deadline = Instant::now() + LONG;
        loop {
            let clicked = match self.client.find(Locator::Css(selector)).await {
                Ok(element) => element.click().await,
                Err(error) => Err(error),
            };
            let Err(error) = clicked else { return };
            assert!(Instant::now() < deadline, "{selector} cannot be clicked: {error}");
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    /// Types into an element; of a list the choice that begins so is taken.
    pub async fn write(&self, selector: &str, text: &str) {
        self.client.find(Locator::Css(selector)).await.unwrap().send_keys(text).await.unwrap();
    }

    /// Presses a key, wherever the page is.
    pub async fn key(&self, key: &str) {
        self.client.active_element().await.unwrap().send_keys(key).await.unwrap();
    }

    pub async fn run(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.unwrap()
    }

    /// Waits until a script answers true.
    pub async fn wait_for(&self, what: &str, script: &str, within: Duration) {
        let deadline = Instant::now() + within;
        while self.run(script).await != Value::Bool(true) {
            assert!(Instant::now() < deadline, "never: {what}");
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    /// A picture of the window as it stands.
    pub async fn picture(&self, name: &str) {
        let png = self.client.screenshot().await.unwrap();
        std::fs::write(pictures().join(format!("{name}.png")), png).unwrap();
    }

    async fn log(&self, kind: &str) -> Vec<Value> {
        let log = self.client.issue_cmd(Extra { path: "se/log", body: json!({ "type": kind }) }).await.unwrap();
        log.as_array().cloned().unwrap_or_default()
    }

    /// Errors on the console so far, and requests to anywhere but `host`.
    pub async fn complaints(&self, host: &str) -> Vec<String> {
        let errors = self.log("browser").await.into_iter().filter(|line| line["level"] == "SEVERE");
        let mut complaints: Vec<String> = errors.map(|line| line["message"].to_string()).collect();
        let mut own = 0;
        for line in self.log("performance").await {
            let message: Value = serde_json::from_str(line["message"].as_str().unwrap_or("null")).unwrap();
            let url = message["message"]["params"]["request"]["url"].as_str().unwrap_or_default();
            let sent = message["message"]["method"] == "Network.requestWillBeSent";
            own += usize::from(sent && url.starts_with(host));
            if sent && !(url.starts_with(host) || url.starts_with("data:") || url.starts_with("chrome")) {
                complaints.push(format!("a request to {url}"));
            }
        }
        if own == 0 {
            complaints.push(format!("not one request to {host} was seen: the log shows nothing"));
        }
        complaints
    }
}

/// Bytes that the driver hands over as text (RFC 4648, base 64).
pub fn decoded(text: &str) -> Vec<u8> {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let (mut bytes, mut bits, mut held) = (Vec::new(), 0_u32, 0);
    for letter in text.bytes().filter(|letter| *letter != b'=') {
        let value = LETTERS.iter().position(|one| *one == letter).expect("base 64") as u32;
        (bits, held) = (bits << 6 | value, held + 6);
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held & 0xff) as u8);
        }
    }
    bytes
}

/// The newest sheet from the feed, read in a thread of its own.
#[derive(Clone)]
pub struct Feed {
    sheet: Arc<Mutex<Option<Sheet>>>,
    live: Arc<Mutex<Option<Value>>>,
}

impl Feed {
    /// Reads the feed at `host:port`.
    pub fn of(host: &str) -> Self {
        let mut line = TcpStream::connect(host).unwrap();
        write!(line, "GET /feed HTTP/1.1\r\nHost: {host}\r\n\r\n").unwrap();
        let sheet = Arc::new(Mutex::new(None));
        let live = Arc::new(Mutex::new(None));
        let (newest, now) = (Arc::clone(&sheet), Arc::clone(&live));
        std::thread::spawn(move || {
            let mut event = String::new();
            for text in BufReader::new(line).lines() {
                let Ok(text) = text else { return };
                if let Some(name) = text.strip_prefix("event: ") {
                    name.clone_into(&mut event);
                } else if let Some(data) = text.strip_prefix("data: ") {
                    match event.as_str() {
                        "sheet" => *newest.lock().unwrap() = Some(serde_json::from_str(data).unwrap()),
                        "live" => *now.lock().unwrap() = Some(serde_json::from_str(data).unwrap()),
                        _ => {}
                    }
                }
            }
        });
        Self { sheet, live }
    }

    /// Nobody's feed.
    pub fn none() -> Self {
        Self { sheet: Arc::default(), live: Arc::default() }
    }

    pub fn sheet(&self) -> Option<Sheet> {
        self.sheet.lock().unwrap().clone()
    }

    /// The blade as the page shows it at this moment.
    pub fn live(&self) -> Option<Value> {
        self.live.lock().unwrap().clone()
    }
}

/// A person waits so long for what follows.
const ONCE_MORE: Duration = Duration::from_secs(30);

/// A person who does what the sheet says, until `until` says so.
pub async fn play(
    feed: &Feed,
    head: &mut SimulatedHead,
    mut instead: impl FnMut(&Sheet) -> Option<Vec<String>>,
    until: impl Fn(&Sheet) -> bool,
    within: Duration,
) -> Sheet {
    let deadline = Instant::now() + within;
    let mut done_for: Option<((Phase, Instruction, usize), Instant)> = None;
    loop {
        if let Some(sheet) = feed.sheet() {
            if until(&sheet) {
                return sheet;
            }
            assert!(Instant::now() < deadline, "it does not come to its end: {:#?}", sheet.step);
            let step = (sheet.step.phase, sheet.step.instruction, sheet.step.number);
            // Where nothing comes of it, a person does it once more.
            if done_for.as_ref().is_none_or(|(done, at)| *done != step || at.elapsed() > ONCE_MORE) {
                done_for = Some((step, Instant::now()));
                for line in instead(&sheet).unwrap_or_else(|| hands::moves(&sheet)) {
                    head.tell(&line);
                }
            }
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}
