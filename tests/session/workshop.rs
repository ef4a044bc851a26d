//! The whole job over HTTP, from an empty data directory: a helicopter by form, setups, what was turned, sheets, the logbook.

use clinoblade::bench::{Answer, Equipment, EquipmentError, Sensors, Workshop};
use clinoblade::logbook::{Location, Logbook};
use clinoblade::page::{Page, serve};
use clinoblade::record::Head;
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use support::bench::LONG;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// A workshop with a logbook and no sensor.
#[derive(Debug)]
struct Bare {
    folder: PathBuf,
}

fn none<T: Send + 'static>() -> Answer<'static, Result<T, EquipmentError>> {
    Box::pin(async { Err(EquipmentError::Silent("Nothing comes from /dev/ttyS0.".to_owned())) })
}

impl Equipment for Bare {
    fn logbook(&self, begin: bool) -> Answer<'_, Result<Option<Logbook>, EquipmentError>> {
        Box::pin(async move {
            let path = self.folder.join("logbook.sqlite");
            if !begin && !path.exists() {
                return Ok(None);
            }
            Ok(Some(Logbook::open(&Location::File(path)).await.unwrap()))
        })
    }

    fn sensors<'a>(&'a self, _: &'a Logbook, _: &'a Head) -> Answer<'a, Result<Sensors, EquipmentError>> {
        none()
    }

    fn bare<'a>(&'a self, _: &'a Logbook) -> Answer<'a, Result<clinoblade::bench::Bare, EquipmentError>> {
        none()
    }

    fn source<'a>(&'a self, _: Option<&'a Logbook>) -> Answer<'a, Result<String, EquipmentError>> {
        none()
    }

    fn use_port<'a>(&'a self, _: &'a str) -> Answer<'a, Result<(), EquipmentError>> {
        none()
    }

    fn heads(&self) -> Option<PathBuf> {
        Some(self.folder.join("heads"))
    }

    fn simulate(&self) -> Answer<'_, Result<Arc<dyn Equipment>, EquipmentError>> {
        none()
    }
}

struct Served {
    at: SocketAddr,
    folder: tempfile::TempDir,
}

impl Served {
    async fn start() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let workshop = Workshop::new(Arc::new(Bare { folder: folder.path().to_owned() }));
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let at = listener.local_addr().unwrap();
        tokio::spawn(serve(listener, Page::over(workshop, at, None)));
        Self { at, folder }
    }

    async fn ask(&self, request: &str) -> (u16, String) {
        let mut line = TcpStream::connect(self.at).await.unwrap();
        line.write_all(request.as_bytes()).await.unwrap();
        let mut answer = Vec::new();
        tokio::time::timeout(LONG, line.read_to_end(&mut answer)).await.unwrap().unwrap();
        let answer = String::from_utf8_lossy(&answer).into_owned();
        let status = answer.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
        (status, answer)
    }

    async fn text(&self, path: &str) -> (u16, String) {
        let at = self.at;
        let (status, answer) =
            self.ask(&format!("GET {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n")).await;
        (status, answer.split_once("\r\n\r\n").map(|(_, body)| body.to_owned()).unwrap_or_default())
    }

    async fn get(&self, path: &str) -> Value {
        let (status, body) = self.text(path).await;
        assert_eq!(status, 200, "{path}: {body}");
        serde_json::from_str(&body).unwrap_or_else(|error| panic!("{path}: {error}: {body}"))
    }

    async fn post(&self, path: &str, body: &str) -> (u16, Value) {
        let at = self.at;
        let (status, answer) = self
            .ask(&format!(
                "POST {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nOrigin: http://{at}\r\nX-Clinoblade: 1\r\n\
                 Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
                body.len()
            ))
            .await;
        let body = answer.split_once("\r\n\r\n").map(|(_, body)| body).unwrap_or_default();
        (status, serde_json::from_str(body).unwrap_or(Value::Null))
    }

    async fn deed(&self, deed: Value) -> (u16, Value) {
        self.post("/do", &deed.to_string()).await
    }

    async fn done(&self, deed: Value) -> Value {
        let (status, answer) = self.deed(deed.clone()).await;
        assert_eq!(status, 200, "{deed}: {answer:#}");
        answer
    }
}

fn form(name: &str) -> Value {
    json!({
        "name": name, "rotation": "clockwise", "blades": "2", "link.pitch_arm_mm": "20", "link.thread": "M2.5",
        "link.seats": "half turn", "link.lengthening": "raises", "tail.blades": "2",
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_start_needs_nothing_and_begins_nothing() {
    let served = Served::start().await;
    let state = served.get("/api/state").await;
    assert_eq!((&state["sensor"]["kind"], &state["next"]), (&json!("silent"), &json!("new_helicopter")));
    assert_eq!((&state["helicopters"], &state["open"], &state["simulated"]), (&json!([]), &Value::Null, &json!(false)));
    assert!(state["sensor"]["said"].as_str().unwrap().contains("/dev/ttyS0"));
    for path in ["/", "/setup", "/setup/3", "/helicopter", "/logbook", "/compare/1/2", "/history", "/sensor"] {
        let (status, page) = served.text(path).await;
        assert!(status == 200 && page.contains("<h1 id=") && !page.contains("style="), "{path}: {page}");
    }
    assert_eq!(served.text("/favicon.ico").await.0, 200);
    assert_eq!(served.get("/api/setups").await["setups"], json!([]));
    for path in ["/sheet/1", "/export/1.json", "/backup.sqlite", "/api/compare?first=1&second=2"] {
        assert_eq!(served.text(path).await.0, 404, "{path}");
    }
    let (status, refused) = served.post("/act", r#"{"do":"arm"}"#).await;
    assert_eq!((status, refused["said"].is_string()), (409, true));
    assert_eq!(std::fs::read_dir(served.folder.path()).unwrap().count(), 0, "looking begins nothing");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_form_is_checked_before_it_is_kept_and_blank_stays_blank() {
    let served = Served::start().await;
    let blank = served.get("/api/head").await;
    assert_eq!(blank["values"], json!({}));
    let fields = blank["fields"].as_array().unwrap();
    assert!(fields.iter().all(|field| field["label"].is_string() && field["usual"].is_string()), "{fields:#?}");
    let mut wrong = form("Club trainer");
    wrong["blades"] = json!("9");
    wrong["link.pitch_arm_mm"] = json!("");
    let (status, refused) = served.deed(json!({ "do": "keep_head", "form": wrong })).await;
    let facts = refused["refusal"]["facts"]["fields"].as_array().unwrap();
    let kinds: Vec<_> = facts.iter().map(|fault| (fault["key"].clone(), fault["fault"]["kind"].clone())).collect();
    assert_eq!(status, 409);
    assert_eq!(kinds, [(json!("blades"), json!("refused")), (json!("link.pitch_arm_mm"), json!("blank"))]);
    assert_eq!(served.get("/api/state").await["helicopters"], json!([]));

    let checked = served.done(json!({ "do": "keep_head", "form": form("Club trainer"), "only_check": true })).await;
    assert_eq!((&checked["kept"], served.get("/api/head").await["helicopters"].clone()), (&json!(false), json!([])));
    served.done(json!({ "do": "keep_head", "form": form("Club trainer") })).await;
    let mut kept = served.get("/api/head?name=Club%20trainer").await["values"].clone();
    assert_eq!(kept["tail.positive"], Value::Null, "what is blank stays blank: {kept:#}");
    assert_eq!((&kept["link.pitch_arm_mm"], &kept["link.lengthening"]), (&json!("20"), &json!("raises")));
    // A copy under another name leaves the first as it was; a changed one of the same name takes its place.
    kept["name"] = json!("Club trainer!");
    kept["link.pitch_arm_mm"] = json!("18");
    served.done(json!({ "do": "keep_head", "form": kept })).await;
    assert_eq!(served.get("/api/head").await["helicopters"], json!(["Club trainer", "Club trainer!"]));
    assert_eq!(served.get("/api/head?name=Club%20trainer").await["values"]["link.pitch_arm_mm"], "20");
    assert_eq!(served.text("/api/head?name=Nobody").await.0, 404);
    assert_eq!(served.get("/api/state").await["next"], "begin");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn setups_are_begun_closed_opened_again_and_compared_from_the_page() {
    let served = Served::start().await;
    served.done(json!({ "do": "keep_head", "form": form("Club trainer") })).await;
    let (status, refused) = served.deed(json!({ "do": "begin", "head": "Nobody" })).await;
    assert_eq!((status, &refused["refusal"]["kind"]), (404, &json!("no_helicopter")));
    let begun = served.done(json!({ "do": "begin", "head": "Club trainer", "reason": "new season" })).await;
    assert_eq!(begun["setup"], 1);
    let state = served.get("/api/state").await;
    assert_eq!(
        (&state["open"]["number"], &state["open"]["on_bench"], &state["next"]),
        (&json!(1), &json!(true), &json!("sensor"))
    );
    // The job can be looked at without a sensor: why there is none stands on the page.
    let (status, refused) = served.deed(json!({ "do": "begin", "head": "Club trainer" })).await;
    assert_eq!((status, &refused["refusal"]["facts"]["open"]), (409, &json!(1)));

    // What can have been turned, and what is recorded of it.
    let turnables = served.get("/api/turnables?setup=1&cell=blade%20B%20zero").await;
    assert_eq!(turnables[0]["what"], "link B +1 half-turn");
    assert_eq!((&turnables[0]["amount"], &turnables[0]["pattern"]), (&json!("half_turns"), &json!("link B {}")));
    let turned = served.done(json!({ "do": "turned", "setup": 1, "what": ["link B +1"], "note": "by hand" })).await;
    assert_eq!(turned["adjusted"][0]["adjustment"], "link B +1 half-turn");
    let (status, _) = served.deed(json!({ "do": "turned", "setup": 1, "what": ["link C +1"] })).await;
    assert_eq!(status, 409, "the head has no blade C");
    let (status, refused) =
        served.deed(json!({ "do": "leave_out", "setup": 1, "cell": "rudder right", "because": " " })).await;
    assert_eq!((status, refused["said"].is_string()), (409, true), "a reason is wanted");
    served.done(json!({ "do": "leave_out", "setup": 1, "cell": "rudder right", "because": "no tail fitted" })).await;

    // The sheet: verdict in a headline, the reason on it, nothing that runs but what prints.
    let (status, sheet) = served.text("/sheet/1").await;
    assert_eq!(status, 200);
    assert!(
        sheet.contains("no tail fitted") && sheet.contains("id=\"verdict\"") && sheet.contains("by hand"),
        "{sheet}"
    );
    let (_, kept) = served.text("/sheet/1.html").await;
    assert!(kept.contains("no tail fitted") && !kept.contains("<script") && !kept.contains("class=\"bar\""));
    assert!(served.text("/sheet/1.txt").await.1.contains("no tail fitted"));
    assert_eq!(served.get("/sheet/1.json").await["number"], 1);
    for wrong in ["/sheet/x", "/sheet/1.pdf", "/sheet/99", "/export/1", "/export/99.json"] {
        assert_eq!(served.text(wrong).await.0, 404, "{wrong}");
    }

    // The second one, the first closed for it; then the first again.
    let begun = served.done(json!({ "do": "begin", "head": "Club trainer", "close": 1 })).await;
    assert_eq!(begun["setup"], 2);
    let setups = served.get("/api/setups?search=new%20season").await;
    assert_eq!((setups["setups"].as_array().unwrap().len(), setups["setups"][0]["closed_at"].is_string()), (1, true));
    let (status, refused) = served.deed(json!({ "do": "turned", "setup": 1, "what": ["link B +1"] })).await;
    assert_eq!((status, &refused["refusal"]["kind"]), (409, &json!("closed")));
    served.done(json!({ "do": "checked", "setup": 1, "by": "a second pair of eyes" })).await;
    assert!(served.text("/sheet/1").await.1.contains("a second pair of eyes"));
    served.done(json!({ "do": "close", "setup": 2 })).await;
    assert_eq!(served.get("/api/state").await["open"], Value::Null);
    served.done(json!({ "do": "take_up", "setup": 1, "pause": { "model_moved": true } })).await;
    assert_eq!(served.get("/api/state").await["open"]["number"], 1);
    let compared = served.get("/api/compare?first=1&second=2").await;
    assert!(compared["cells"].as_array().unwrap().iter().all(|cell| cell["change"] == "neither"), "{compared:#}");
    assert_eq!(served.get("/api/history?head=Club%20trainer").await["head"], "Club trainer");

    // Out and in again, and the whole logbook in one file.
    let (_, document) = served.text("/export/1.json").await;
    let (status, imported) = served.post("/import", &document).await;
    assert_eq!((status, &imported["imported"][0]["was_here"]), (200, &json!(true)), "{imported:#}");
    assert_eq!(served.post("/import", "{}").await.0, 409);
    let (status, backup) = served.text("/backup.sqlite").await;
    assert!(status == 200 && backup.starts_with("SQLite format 3"));
}

/// The guards hold for every new way in.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_places_let_in_nobody_else() {
    let served = Served::start().await;
    let at = served.at;
    let deed = r#"{"do":"simulate"}"#;
    for path in ["/do", "/import"] {
        for headers in [
            "Content-Type: application/json\r\nX-Clinoblade: 1\r\n".to_owned(),
            format!("Origin: http://{at}\r\nContent-Type: application/json\r\n"),
            format!("Origin: http://{at}\r\nContent-Type: text/plain\r\nX-Clinoblade: 1\r\n"),
            "Origin: http://evil.example\r\nContent-Type: application/json\r\nX-Clinoblade: 1\r\n".to_owned(),
        ] {
            let length = deed.len();
            let request = format!(
                "POST {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n{headers}Content-Length: {length}\r\n\r\n{deed}"
            );
            assert_eq!(served.ask(&request).await.0, 403, "{path} {headers}");
        }
        assert_eq!(served.text(path).await.0, 405, "nothing is changed by asking");
    }
    let long = format!(r#"{{"do":"begin","head":"{}"}}"#, "x".repeat(5000));
    assert_eq!(served.post("/do", &long).await.0, 413);
    for wrong in ["", "{", r#"{"do":"explode"}"#, r#"{"do":"close","setup":1,"more":1}"#, r#"{"do":"begin"}"#] {
        assert_eq!(served.post("/do", wrong).await.0, 400, "{wrong}");
    }
    for path in ["/api/state", "/sheet/1", "/backup.sqlite", "/do", "/helicopter"] {
        let request = format!("GET {path} HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
        assert_eq!(served.ask(&request).await.0, 403, "{path}");
    }
    let (_, whole) = served.ask(&format!("GET /helicopter HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n")).await;
    assert!(whole.to_lowercase().contains("content-security-policy: default-src 'none'; script-src 'self'"), "{whole}");
}
