"""The player in a browser: sound at once, loops as long as their music, any speed at the same pitch."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Visit = Any
Open = Callable[..., Visit]
Make = Callable[..., Path]
#  the demo's bars: two beats of 5/4 s at its tempo of 48 dotted quarters a minute
BAR_S = 2.5
LEANS, PASSES = 2, 0


@pytest.fixture(scope="module", name="seen")
def _seen(page_file: Path, visits: Open) -> Visit:
    """One window for all tests of this file."""
    return visits(page_file)


@pytest.fixture(autouse=True)
def _afresh(seen: Visit) -> None:
    seen.page.evaluate(
        "stopSound(); player.loop = false; player.speed = 1; opened >= 0 && closeSign(); forgetChoices()"
    )


def rounds(seen: Visit, sign: int, speed: float, whole: str = "false") -> Any:
    """The sound of three rounds as the browser plays them, rendered offline: loop length, onset, likeness of rounds."""
    return seen.page.evaluate(
        """async ([sign, speed, whole]) => {
          player.speed = speed;
          const what = {sign, reading: 0, whole};
          const cut = await soundAt(what, true);
          const rate = record.sound.rate;
          const seconds = (cut.lead + 3.5 * cut.length) / rate;
          const offline = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
          const voice = newVoice(offline, cut, what, speed, true);
          voice.gain.gain.value = 1;
          voice.source.start(0);
          const sound = (await offline.startRendering()).getChannelData(0);
          const {from_s, to_s} = spanOf(what);
          const loop = voice.source.loopEnd - voice.source.loopStart;
          const period = Math.round(loop * rate);
          const from = cut.lead + period;
          let away = 0, loud = 0;
          for (let i = 0; i < period; i += 1) {
            away += (sound[from + i] - sound[from + period + i]) ** 2;
            loud += sound[from + i] ** 2;
          }
          const steepest = (first, last) => {
            let most = 0;
            for (let i = first; i < last; i += 1) most = Math.max(most, Math.abs(sound[i] - sound[i - 1]));
            return most;
          };
          const step = steepest(from + period - 20, from + period + 20);
          const steps = steepest(from, from + period);
          const peak = sound.reduce((a, b) => Math.max(a, Math.abs(b)), 0);
          const onset = sound.findIndex(value => Math.abs(value) > peak / 20) / rate;
          return {loop, music: (to_s - from_s) / speed, away: away / loud, step, steps, onset};
        }""",
        [sign, speed, whole == "true"],
    )


@pytest.mark.parametrize("speed", [1, 0.6, 0.75, 0.9, 1.17])
@pytest.mark.parametrize("whole", ["true", "false"])
def test_a_loop_is_as_long_as_its_music(seen: Visit, speed: float, whole: str) -> None:
    """Within 5 ms, at recorded tempos and between; every round sounds like the one before, and nothing clicks."""
    found = rounds(seen, LEANS, speed, whole)
    bars = found["music"] * speed / BAR_S
    assert pytest.approx(round(bars), abs=0.2) == bars  # a phrase breathes a little
    assert pytest.approx(found["music"], abs=0.005) == found["loop"]
    assert found["away"] < 1e-6
    assert found["step"] <= found["steps"]


@pytest.mark.parametrize("sign", [PASSES, LEANS])
@pytest.mark.parametrize("speed", [1, 0.6])
def test_no_silence_comes_before_a_passage(seen: Visit, sign: int, speed: float) -> None:
    """From the start of the sound to its first note it is no longer than an instrument needs to speak."""
    assert rounds(seen, sign, speed)["onset"] < 0.12


@pytest.mark.parametrize("speed", [0.8, 1.25])
def test_stretching_changes_the_length_and_not_the_pitch(seen: Visit, speed: float) -> None:
    """A tone of 440 Hz keeps its pitch to the cent and its level; a knock comes when it should."""
    found = seen.page.evaluate(
        """(speed) => {
          const rate = 24000, tone = new Float32Array(2 * rate), knocks = new Float32Array(2 * rate);
          for (let i = 0; i < tone.length; i += 1) tone[i] = 0.5 * Math.sin(2 * Math.PI * 440 * i / rate);
          for (let i = 0; i < 200; i += 1) knocks[rate + i] = 0.3 * (1 - i / 200) * Math.sin(i);
          const [slow] = stretched([tone], speed, rate);
          const [knock] = stretched([knocks], speed, rate);
          let crossings = 0;
          const [from, to] = [Math.round(slow.length * 0.25), Math.round(slow.length * 0.75)];
          let first = 0, last = 0, power = 0;
          for (let i = from; i < to; i += 1) {
            power += slow[i] ** 2 / (to - from);
            if (slow[i - 1] < 0 && slow[i] >= 0) {
              const at = i - slow[i] / (slow[i] - slow[i - 1]);
              if (!first) first = at; else crossings += 1;
              last = at;
            }
          }
          const loudest = knock.reduce((best, value, i) => Math.abs(value) > Math.abs(knock[best]) ? i : best, 0);
          const hertz = crossings * rate / (last - first);
          return {length: slow.length / rate, hertz, level: Math.sqrt(2 * power), knock: loudest / rate};
        }""",
        speed,
    )
    assert pytest.approx(2 / speed, abs=0.001) == found["length"]
    assert pytest.approx(440, rel=2 ** (1 / 1200) - 1) == found["hertz"]
    assert pytest.approx(0.5, abs=0.02) == found["level"]
    assert pytest.approx(1 / speed, abs=0.02) == found["knock"]


def test_the_tempo_between_is_reached_while_it_sounds(seen: Visit) -> None:
    """The slider moved, the same place goes on at the new speed, from the rendered tempo that is nearest."""
    seen.page.evaluate(f"openSign({LEANS})")
    seen.play(0).click()
    seen.until("() => player.what !== null")
    seen.page.locator("#tempo").fill("90")
    seen.until("() => player.voice.speed === 0.9")
    assert 1 == seen.page.evaluate("nearestTempo()")
    seen.page.locator("#tempo").fill("60")
    seen.until("() => player.voice.speed === 0.6")
    assert 0 == seen.page.evaluate("nearestTempo()")
    assert 0 < seen.sounds()["time"] < 4


def test_solo_accompaniment_and_loop_can_be_set(seen: Visit) -> None:
    """Each half is silenced by itself; the excerpt begins again by itself."""
    seen.page.evaluate(f"openSign({LEANS})")
    seen.play(0).click()
    seen.until("() => player.what !== null")
    seen.page.get_by_label("Accompaniment").uncheck()
    assert [0, 1] == seen.page.evaluate("player.voice.parts.map(part => part.gain.value)")
    seen.page.get_by_label("Accompaniment").check()
    seen.page.get_by_label("Repeat").check()
    seen.until("() => player.voice.loop")
    assert seen.sounds()["loop"]


def test_switching_is_heard_at_once(seen: Visit) -> None:
    """From the press to the other reading's sound it takes less than 150 ms once the passage has sounded."""
    seen.page.evaluate(f"openSign({LEANS})")
    seen.play(0).click()
    seen.until("() => player.what !== null")
    took = seen.page.evaluate(
        f"async () => {{ const t = performance.now(); await playSound({{sign: {LEANS}, reading: 1, whole: false}});"
        "return performance.now() - t; }"
    )
    assert took < 150
