"""What a person hears about one probe while its reading is still good."""

from __future__ import annotations

from controller.readings.reading import Good, Why
from tests.readings.probe import Probe


def test_one_bad_sample_is_nobodys_trouble_three_are() -> None:
    """A person hears of a probe after three failures in a row, and no longer once it answers."""
    probe = Probe("soil")
    probe.gives(14.0)
    probe.fails(Why.SILENT, Why.SILENT)
    assert probe.judge.trouble is None
    assert isinstance(probe.fails(Why.SILENT), Good)
    assert probe.judge.trouble is Why.SILENT
    probe.gives(14.0)
    assert probe.judge.trouble is None


def test_frequent_noise_is_trouble_although_the_reading_is_good() -> None:
    """A cable that damages every tenth answer is named; one that damages every hundredth is not."""
    for good_between, trouble in ((9, Why.NOISY), (99, None)):
        probe = Probe()
        for _ in range(600 // (good_between + 1) + 1):
            probe.fails(Why.NOISY)
            probe.gives(*[20.0 + 0.1 * (n % 2) for n in range(good_between)])
        assert isinstance(probe.now(), Good)
        assert probe.judge.trouble is trouble


def test_noise_that_hovers_is_named_once() -> None:
    """Three damaged answers in a hundred do not make a cable noisy, but keep one that was."""
    fresh, noisy = Probe(), Probe()
    for _ in range(60):
        noisy.fails(Why.NOISY)
        noisy.gives(*[20.0 + 0.1 * (n % 2) for n in range(9)])
    for probe, trouble in ((fresh, None), (noisy, Why.NOISY)):
        for _ in range(20):
            probe.fails(Why.NOISY)
            probe.gives(*[20.0 + 0.1 * (n % 2) for n in range(32)])
        assert probe.judge.trouble is trouble


def test_refused_temperatures_do_not_accuse_the_cable() -> None:
    """Answers that arrive whole but cannot be true are no noise, however many there are."""
    probe = Probe()
    for _ in range(60):
        probe.gives(200.0, 20.0, 20.1)
    assert probe.judge.trouble is None


def test_single_damaged_answer_is_never_trouble() -> None:
    """Not even where it is the first answer of all, or the first after a long silence."""
    probe = Probe()
    probe.fails(Why.NOISY)
    probe.gives(20.0)
    assert probe.judge.trouble is None
    probe.now(after_s=7200.0)
    probe.fails(Why.NOISY)
    probe.gives(20.0)
    assert probe.judge.trouble is None


def test_noise_is_forgotten_after_quiet_hours() -> None:
    """Once the cable is mended, the trouble ends by itself."""
    probe = Probe()
    for _ in range(40):
        probe.fails(Why.NOISY)
        probe.gives(20.0, 20.1)
    assert probe.judge.trouble is Why.NOISY
    probe.gives(*[20.0 + 0.1 * (n % 2) for n in range(8 * 240)])
    assert probe.judge.trouble is None
