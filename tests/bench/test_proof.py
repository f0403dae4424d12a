"""Proof: before, after and predicted; what the reading teaches; settings that go into the job and out of it again."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from bench.conftest import Running, demo, start, stop
from bench.waiting import until

from backwave.cli.demo import record
from backwave.files.recordings import read_sound
from backwave.job import load


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A workbench of the demo job with the recordings that `backwave demo` makes."""
    base = tmp_path_factory.mktemp("proof")
    folder = demo(base / "job")
    record(folder, load(folder))
    running = start(folder, base / "shelf")
    yield running
    stop(running)


def test_before_after_predicted_then_learned_then_set(heard: Running, tab: Callable[..., Any]) -> None:
    page = tab(heard.url + "/proof")
    before = heard.text
    page.wait_for_selector("svg[aria-label*='Before, after and predicted']", timeout=60_000)
    rows = page.locator("table").first.inner_text()
    assert "60 to 250 Hz" in rows
    assert "none (±" in rows
    assert "+7" in rows or "+6" in rows  # the treble of new tweeters
    page.get_by_role("button", name="Distortion", exact=True).click()
    page.wait_for_selector("svg[aria-label*='Distortion at the driver seat']")

    page.get_by_role("button", name="Learn from it").click()
    page.wait_for_selector("text=which it has not seen:", timeout=120_000)
    page.get_by_role("button", name="Before, after, predicted").click()
    page.wait_for_function(
        "document.querySelector('#plot-0').getAttribute('aria-valuetext').includes('having learned')"
    )
    assert heard.text == before, "nothing on disk before it is kept"

    page.get_by_role("button", name="Work out the settings").click()
    page.wait_for_selector("svg[aria-label*='left: toward the target']", timeout=120_000)
    page.get_by_role("button", name="right", exact=True).click()
    page.wait_for_selector("svg[aria-label*='right: toward the target']")
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    bad = [(v["id"], v["nodes"][0]["html"][:160]) for v in found]
    assert not bad, bad
    page.get_by_role("button", name="Keep it in the job").last.click()
    until(lambda: "kept = [" in heard.text)
    stage = next(s for s in tomllib.loads(heard.text)["stage"] if s["id"] == "subwoofer")
    assert any(f.startswith("peak") for f in stage["path"][0]["filters"])
    page.wait_for_selector("text=was recorded before its settings", timeout=120_000)
    page.get_by_role("button", name=re.compile("Undo")).click()
    until(lambda: heard.text == before)


def test_on_a_phone_and_with_a_recording_that_is_gone(heard: Running, tab: Callable[..., Any]) -> None:
    gone = heard.folder / "readings" / "computed-after-2.flac"
    kept = gone.read_bytes()
    gone.unlink()
    page = tab(heard.url + "/proof", width=390)
    page.wait_for_selector("svg[aria-label*='Before, after and predicted']", timeout=60_000)
    page.get_by_role("button", name="Read them again").click()
    page.wait_for_selector("text=cannot be used", timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    gone.write_bytes(kept)
    page.get_by_role("button", name="Read them again").click()
    page.wait_for_selector("text=cannot be used", state="detached", timeout=60_000)


# a microphone that hums at 440 Hz, and says of itself what the test wants
MICROPHONE = """navigator.mediaDevices.getUserMedia = async (asked) => {
  const context = new AudioContext(), hum = context.createOscillator(), end = context.createMediaStreamDestination();
  hum.frequency.value = 440; hum.connect(end); hum.start();
  window.asked = asked.audio;
  const [track] = end.stream.getAudioTracks();
  track.getSettings = () => window.settings ?? { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  return end.stream;
};"""


@pytest.mark.parametrize("width", [1440, 390])
def test_a_recording_comes_in_without_a_command(lent: Running, tab: Callable[..., Any], width: int) -> None:
    shutil.rmtree(
        lent.folder / "readings", ignore_errors=True
    )  # the folder is lent: the same sound may lie there already
    text = lent.text
    (lent.folder / "job.toml").write_text(text[: text.index("[[reading]]")], encoding="utf-8")
    page = tab(lent.url + "/proof", width, script=MICROPHONE)
    page.wait_for_selector("text=Nothing is recorded yet", timeout=60_000)
    page.wait_for_selector("text=wear ear protection")
    page.wait_for_selector("text=Below 150 Hz a phone's own filters")
    page.get_by_role("button", name="Make the sweep").click()
    page.wait_for_selector("text=Quiet, at \u221240 dB")  # until somebody has heard what speaks where
    long = "new Promise((done) => { const a = document.querySelector('audio'); a.onloadedmetadata = () => done(a.duration); a.load(); })"
    page.evaluate("document.querySelector('audio').preload = 'metadata'")
    assert page.evaluate(long) == pytest.approx(38.1, abs=0.1)
    with page.expect_download() as waiting:
        page.get_by_role("link", name="sweep.wav, to take along").click()
    assert waiting.value.suggested_filename == "sweep.wav"

    send = page.locator(".take input[type=file]")
    send.set_input_files({"name": "voice.m4a", "mimeType": "audio/mp4", "buffer": b"\0\0\0\x20ftypM4A " + bytes(900)})
    page.wait_for_selector(".take >> text=set the recorder to WAV")
    assert "[[reading]]" not in lent.text
    sound = (lent.folder / "readings" / "sweep.wav").read_bytes()  # as perfect a recording as there is: several pieces
    lost: list[str] = []

    def lose(route: Any) -> None:
        """The answers to the first piece and to the last are lost once."""
        at = int(route.request.url.partition("at=")[2].partition("&")[0])
        if (0 < at < len(sound) - 800_000) or route.request.url in lost:
            return route.continue_()
        lost.append(route.request.url)
        route.fetch()
        return route.abort()

    page.route("**/take/send*", lose)
    for name, said in (
        (f"take {width}.wav", "In the job"),
        ("the same.wav", f"Already there as readings/take-{width}.wav: nothing was added"),
    ):
        send.set_input_files({"name": name, "mimeType": "audio/wav", "buffer": sound})
        page.wait_for_selector(f".take >> text={said}", timeout=60_000)
    page.unroute("**/take/send*")
    assert (len(lost), lent.text.count("[[reading]]")) == (4, 1)
    assert (lent.folder / "readings" / f"take-{width}.wav").read_bytes() == sound
    assert 'recorder = "phone"' in lent.text

    page.get_by_role("button", name="Record here").click()
    page.wait_for_selector("text=automatic gain are off")
    assert page.evaluate("asked") == {
        "echoCancellation": False, "noiseSuppression": False, "autoGainControl": False, "channelCount": 1,
    }  # fmt: skip
    page.wait_for_timeout(1500)
    page.get_by_role("button", name=re.compile("Stop, and send it")).click()
    until(lambda: "readings/recorded-" in lent.text)
    samples = read_sound(next((lent.folder / "readings").glob("recorded-*.wav")))
    spectrum = np.abs(np.fft.rfft(samples.samples[:, 0]))
    assert spectrum.argmax() * samples.rate_hz / samples.samples.shape[0] == pytest.approx(440, abs=3)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    bad = [(v["id"], v["nodes"][0]["html"][:160]) for v in found]
    assert not bad, bad


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ("{ echoCancellation: false, noiseSuppression: true, autoGainControl: false }", "keeps noise suppression on"),
        ("{ echoCancellation: false }", "does not say whether noise suppression, automatic gain is off"),
    ],
)
def test_a_browser_that_bends_the_sound_records_nothing(
    shared: Running, tab: Callable[..., Any], settings: str, said: str
) -> None:
    page = tab(shared.url + "/proof", script=MICROPHONE + f"window.settings = {settings};")
    page.locator("summary", has_text="Record").last.click()
    page.get_by_role("button", name="Record here").click()
    page.wait_for_selector(f"text={said}")
    assert page.get_by_role("button", name=re.compile("Stop, and send it")).count() == 0


def test_without_an_encrypted_address_the_page_says_so(shared: Running, tab: Callable[..., Any]) -> None:
    page = tab(shared.url + "/proof", script="Object.defineProperty(window, 'isSecureContext', { value: false });")
    page.locator("summary", has_text="Record").last.click()
    page.wait_for_selector("text=needs an encrypted address")
    assert page.get_by_role("button", name="Record here").count() == 0
