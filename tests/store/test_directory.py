"""Owners, cameras and jobs, and finding them again."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date

import pytest

from camerawright.store.workshop import Workshop, open_workshop
from camerawright.workshop.rows import Camera, Owner, Visit
from tests.store.invented import FALTER, INES, MARK, TOBIAS, VISIT, refusal


def test_a_job_reads_back_as_it_was_taken_in(workshop: Workshop) -> None:
    taken = workshop.take_in(INES, FALTER, VISIT)
    assert (taken.id, taken.owner, taken.camera, taken.visit) == ("J1", INES, FALTER, VISIT)
    with open_workshop(workshop.folder) as later:
        assert later.job("J1") == taken
        assert later.job("J1").visit == VISIT


@pytest.mark.parametrize("spoken", ["J2", "j2", "2", " J2 ", "J02"])
def test_a_job_is_found_however_its_id_is_said(workshop: Workshop, spoken: str) -> None:
    workshop.take_in(INES, FALTER, VISIT)
    second = workshop.take_in(TOBIAS, MARK, VISIT)
    assert workshop.job(spoken) == second


def test_a_job_that_does_not_exist_is_refused_with_those_near_it(workshop: Workshop) -> None:
    with refusal("job J1", "there is no job yet", "take a camera in first"):
        workshop.job("J1")
    for _ in range(12):
        workshop.take_in(INES, FALTER, VISIT)
    with refusal("job J14", "J8, J9, J10, J11, J12", "of 12"):
        workshop.job("J14")
    for strange in ("", "J", "Falter", "J1.5", "-1", "J99999999999999999999", "J٣", "0"):
        with refusal(f"job {strange}:", "there is none of that id", "take one that exists"):
            workshop.job(strange)


def test_jobs_are_listed_newest_first(workshop: Workshop) -> None:
    jobs = [workshop.take_in(INES, camera, VISIT) for camera in (FALTER, MARK, FALTER)]
    assert workshop.jobs() == tuple(reversed(jobs))


def test_a_camera_seen_before_is_found_whatever_the_case_and_spacing(workshop: Workshop) -> None:
    first = workshop.take_in(INES, FALTER, VISIT)
    workshop.take_in(INES, MARK, VISIT)
    said = Camera(maker=" ORLMANN", model="falter  6X6", serial="40  117 ", variant=FALTER.variant)
    again = workshop.take_in(TOBIAS, said, Visit(taken_in=date(2027, 1, 1)))
    assert again.camera == FALTER
    assert workshop.visits(said) == (first, again)
    assert workshop.visits(replace(FALTER, serial="40118")) == ()


def test_a_variant_given_later_holds_for_earlier_visits_and_none_given_changes_nothing(workshop: Workshop) -> None:
    workshop.take_in(INES, replace(FALTER, variant=""), VISIT)
    workshop.take_in(INES, FALTER, VISIT)
    third = workshop.take_in(INES, replace(FALTER, variant=" "), VISIT)
    assert third.camera == FALTER
    assert [job.camera for job in workshop.jobs()] == [FALTER] * 3
    assert len(workshop.jobs_of_variant(FALTER.variant_key)) == 3
    assert workshop.jobs_of_variant(replace(FALTER, variant="").variant_key) == ()


def test_cameras_of_one_variant_teach_each_other(workshop: Workshop) -> None:
    first = workshop.take_in(INES, FALTER, VISIT)
    workshop.take_in(INES, MARK, VISIT)
    workshop.take_in(INES, replace(FALTER, serial="2", variant="uncoupled"), VISIT)
    other = replace(FALTER, serial="3", variant=FALTER.variant.upper())
    fourth = workshop.take_in(TOBIAS, other, VISIT)
    assert workshop.jobs_of_variant(FALTER.variant_key) == (first, fourth)


def test_blanks_that_would_make_two_cameras_one_are_refused_all_at_once(workshop: Workshop) -> None:
    with refusal("blank: owner's name, model, serial number", "tag"):
        workshop.take_in(Owner(name=" "), Camera(maker="Orlmann", model="", serial=" "), VISIT)
    assert workshop.jobs() == ()


def test_cameras_taken_in_at_the_same_moment_each_get_their_own_job(workshop: Workshop) -> None:
    with ThreadPoolExecutor(8) as pool:
        jobs = list(pool.map(lambda n: workshop.take_in(INES, replace(MARK, serial=str(n % 4)), VISIT), range(24)))
    assert sorted(int(job.id[1:]) for job in jobs) == list(range(1, 25))
    assert [len(workshop.visits(replace(MARK, serial=str(n)))) for n in range(4)] == [6, 6, 6, 6]


def test_the_apertures_of_a_lens_are_entered_once_and_can_be_mended(workshop: Workshop) -> None:
    first = workshop.take_in(INES, replace(FALTER, f_numbers=(3.5, 4.0, 5.6, 8.0)), VISIT)
    again = workshop.take_in(INES, FALTER, VISIT)
    assert again.camera.f_numbers == (3.5, 4.0, 5.6, 8.0)
    workshop.set_apertures(first.id, (4.5, 5.6, 8.0))
    assert {job.camera.f_numbers for job in workshop.jobs()} == {(4.5, 5.6, 8.0)}
    workshop.set_apertures(first.id, ())
    assert workshop.job(first.id).camera.f_numbers == ()


def test_a_camera_has_the_apertures_of_the_last_one_of_its_named_variant(workshop: Workshop) -> None:
    workshop.take_in(INES, replace(FALTER, f_numbers=(3.5, 4.0)), VISIT)
    workshop.take_in(INES, replace(FALTER, serial="2", f_numbers=(4.5, 5.6)), VISIT)
    workshop.take_in(INES, replace(FALTER, serial="3"), VISIT)
    other = workshop.take_in(INES, replace(FALTER, serial="4", variant="uncoupled"), VISIT)
    assert workshop.job("J3").camera.f_numbers == (4.5, 5.6)
    assert other.camera.f_numbers == ()
    workshop.take_in(INES, replace(FALTER, serial="5", variant="", f_numbers=(8.0,)), VISIT)
    assert workshop.take_in(INES, replace(FALTER, serial="6", variant=""), VISIT).camera.f_numbers == ()
