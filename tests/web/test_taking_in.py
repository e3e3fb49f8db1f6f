"""Taking a camera in by the page."""

from concurrent.futures import ThreadPoolExecutor

from camerawright.store.workshop import Workshop, open_workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Camera, Job
from tests.web.conftest import Browser, fields, words

GIVEN = {
    "owner": "Oda Kellerhals",
    "maker": "Orlmann",
    "model": "Falter 6x6",
    "serial": "41960",
    "film_inside": "no",
    "taken_in": "2026-03-02",
}


def test_the_start_page_works_in_an_empty_workshop(browser: Browser) -> None:
    page = browser.get("/")
    assert page.status_code == 200
    assert "No camera is here yet" in words(page)


def test_a_camera_taken_in_has_a_page_and_stands_on_the_start_page(browser: Browser, workshop: Workshop) -> None:
    answer = browser.fill("/take-in", "take-in", **GIVEN, accessories="case, strap")
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/J1")
    assert workshop.job("J1").visit.accessories == ("case", "strap")
    assert "Oda Kellerhals" in words(browser.get("/"))
    assert "no. 41960" in words(browser.get("/jobs/J1"))


def test_a_form_sent_twice_makes_one_job(browser: Browser, workshop: Workshop) -> None:
    sent = {**browser.form("/take-in", "take-in"), **GIVEN}
    answers = [browser.send("POST", "/take-in", data=sent) for _ in range(2)]
    assert {answer.headers["location"] for answer in answers} == {"/jobs/J1"}
    assert len(workshop.jobs()) == 1


def test_a_form_sent_twice_through_two_servers_makes_one_job(browser: Browser, workshop: Workshop) -> None:
    sent = {**browser.form("/take-in", "take-in"), **GIVEN}
    with open_workshop(workshop.folder) as elsewhere:
        other = Browser(create_app(elsewhere))
        with ThreadPoolExecutor(4) as pool:
            answers = list(pool.map(lambda each: each.send("POST", "/take-in", data=sent), [browser, other] * 3))
    assert {answer.headers["location"] for answer in answers} == {"/jobs/J1"}
    assert len(workshop.jobs()) == 1


def test_one_camera_on_four_forms_at_once_through_two_servers_is_taken_in_once(
    browser: Browser, workshop: Workshop
) -> None:
    sent = [
        {**browser.form("/take-in", "take-in"), **GIVEN, "owner": owner} for owner in ("Oda", "Ines", "Tobias", "Kim")
    ]
    assert len({each["id"] for each in sent}) == 4
    with open_workshop(workshop.folder) as elsewhere:
        servers = [browser, Browser(create_app(elsewhere))] * 2
        with ThreadPoolExecutor(4) as pool:
            answers = list(pool.map(lambda each, form: each.send("POST", "/take-in", data=form), servers, sent))
    assert sorted(answer.status_code for answer in answers) == [303, 422, 422, 422]
    assert len(workshop.jobs()) == 1
    assert all("J1" in words(answer) for answer in answers if answer.status_code == 422)


def test_a_camera_that_came_in_while_the_question_was_open_is_asked_about_again(
    browser: Browser, workshop: Workshop
) -> None:
    browser.fill("/take-in", "take-in", **GIVEN)
    sent = {**browser.form("/take-in", "take-in"), **GIVEN, "known": "J1"}
    visits = workshop.visits
    n_asked: list[int] = []

    def visits_before(camera: Camera) -> tuple[Job, ...]:
        found = visits(camera)
        if not n_asked:  # right after the page looked, another bench takes it in
            n_asked.append(1)
            workshop.take_in(found[0].owner, camera, found[0].visit)
        return found

    workshop.visits = visits_before  # type: ignore[method-assign]
    answer = browser.send("POST", "/take-in", data=sent)
    assert answer.status_code == 422
    assert "J2" in words(answer)
    assert [job.id for job in workshop.jobs()] == ["J2", "J1"]


def test_a_form_sent_again_with_other_words_is_told_so(browser: Browser, workshop: Workshop) -> None:
    sent = {**browser.form("/take-in", "take-in"), **GIVEN}
    assert browser.send("POST", "/take-in", data=sent).status_code == 303
    again = browser.send("POST", "/take-in", data={**sent, "owner": "Somebody else"})
    assert again.status_code == 422
    assert "this form was sent before, and told something else" in words(again)
    assert len(workshop.jobs()) == 1


def test_an_old_film_may_be_nitrate_and_the_page_says_so_before_and_after(browser: Browser) -> None:
    """[jaic-30-02-003]."""
    assert "may be nitrate: it burns fiercely" in words(browser.get("/take-in"))
    browser.fill("/take-in", "take-in", **{**GIVEN, "film_inside": "yes"})
    assert "may be nitrate: it burns fiercely" in words(browser.get("/jobs/J1"))


def test_whether_a_film_is_inside_must_be_said(browser: Browser, workshop: Workshop) -> None:
    answer = browser.fill("/take-in", "take-in", **{**GIVEN, "film_inside": ""})
    assert answer.status_code == 422
    assert "a back opened on a loaded film fogs it" in words(answer)
    assert not workshop.jobs()


def test_everything_typed_comes_back_with_each_error_at_its_field(browser: Browser, workshop: Workshop) -> None:
    typed = {**GIVEN, "serial": "", "taken_in": "2999-01-01", "owners_words": "“hangs” & <b>sticks</b>\nin the cold"}
    answer = browser.fill("/take-in", "take-in", **typed)
    assert answer.status_code == 422
    back = fields(answer, "take-in")
    assert {name: back[name] for name in typed} == typed
    assert 'id="take-in-serial-error"' in answer.text
    assert "that day is in the future" in words(answer)
    assert not workshop.jobs()


def test_a_camera_seen_before_shows_its_visits_before_it_is_taken_in_again(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    again = {**GIVEN, "serial": job.camera.serial.upper(), "maker": "ORLMANN"}
    asked = browser.fill("/take-in", "take-in", **again)
    assert "This camera was here before" in words(asked)
    assert "J1 is not handed back" in words(asked)
    assert "Slow speeds hang." in words(asked)
    assert len(workshop.jobs()) == 1
    answer = browser.send("POST", "/take-in", data={**fields(asked, "take-in"), "known": "J1"})
    assert answer.headers["location"] == "/jobs/J2"
    assert "taken in while J1 of this camera was open" in words(browser.get("/jobs/J2/journal"))
    assert "Slow speeds hang." in words(browser.get("/jobs/J2"))


def test_the_apertures_of_the_lens_are_asked_for_and_shown(browser: Browser, workshop: Workshop) -> None:
    browser.fill("/take-in", "take-in", **GIVEN, f_numbers="f/3.5 4 5,6 8")
    assert workshop.job("J1").camera.f_numbers == (3.5, 4.0, 5.6, 8.0)
    assert "Apertures f/3.5, 4, 5.6, 8" in words(browser.get("/jobs/J1"))


def test_apertures_that_cannot_be_read_come_back_at_their_field(browser: Browser, workshop: Workshop) -> None:
    answer = browser.fill("/take-in", "take-in", **GIVEN, f_numbers="3.5, wide")
    assert answer.status_code == 422
    assert "'wide' is no f-number; write the apertures like 3.5, 4" in words(answer)
    assert fields(answer, "take-in")["f_numbers"] == "3.5, wide"
    assert not workshop.jobs()


def test_apertures_are_mended_on_the_page_of_the_job(browser: Browser, workshop: Workshop, job: Job) -> None:
    assert "Apertures not entered" in words(browser.get(f"/jobs/{job.id}"))
    sent = {"f_numbers": "4.5, 5.6, 8"}
    answer = browser.send("POST", f"/jobs/{job.id}/apertures", data=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{job.id}")
    assert workshop.job(job.id).camera.f_numbers == (4.5, 5.6, 8.0)
    assert fields(browser.get(f"/jobs/{job.id}"), "apertures")["f_numbers"] == "4.5, 5.6, 8"
    refused = browser.send("POST", f"/jobs/{job.id}/apertures", data={"f_numbers": "8, 8"})
    assert refused.status_code == 422
    assert "8 and 8 do not follow each other" in words(refused)
    assert fields(refused, "apertures")["f_numbers"] == "8, 8"
    assert workshop.job(job.id).camera.f_numbers == (4.5, 5.6, 8.0)


def test_a_camera_called_much_like_a_known_one_is_asked_about(browser: Browser, workshop: Workshop) -> None:
    browser.fill("/take-in", "take-in", **GIVEN)
    slip = {**GIVEN, "maker": "Orlman", "serial": "41 960"}
    asked = browser.fill("/take-in", "take-in", **slip)
    assert "Did you mean one that was here before?" in words(asked)
    assert len(workshop.jobs()) == 1
    sent = {**fields(asked, "take-in"), "meant": "0"}
    assert "This camera was here before" in words(browser.send("POST", "/take-in", data=sent))
    sent = {**fields(asked, "take-in"), "is_new": "yes"}
    assert browser.send("POST", "/take-in", data=sent).status_code == 303
    assert [job.camera.maker for job in workshop.jobs()] == ["Orlman", "Orlmann"]


def test_the_take_in_is_put_right_and_taken_back_on_the_page(browser: Browser, workshop: Workshop) -> None:
    browser.fill("/take-in", "take-in", **{**GIVEN, "film_inside": "not known"})
    assert "not known: it counts as inside" in words(browser.get("/jobs/J1"))
    right = {**browser.form("/jobs/J1", "intake"), "serial": "41961", "film": "no", "why": "misread"}
    assert browser.send("POST", "/jobs/J1/intake", data=right).status_code == 303
    page = words(browser.get("/jobs/J1"))
    assert "no. 41961" in page
    assert "Film inside no" in page
    assert "serial number “41961”, not “41960”. misread" in words(browser.get("/jobs/J1/journal"))
    same = browser.form("/jobs/J1", "intake")
    assert browser.send("POST", "/jobs/J1/intake", data=same).status_code == 422  # nothing is different
    assert browser.send("POST", "/jobs/J1/take-back", data={}).status_code == 422
    browser.fill("/take-in", "take-in", **{**GIVEN, "serial": "7"})
    assert browser.send("POST", "/jobs/J2/take-back", data={}).headers["location"] == "/"
    assert [job.id for job in workshop.jobs()] == ["J1"]
    assert workshop.verify() == ()
