"""The bench by its addresses: what stands before the right eye, what is asked, what is written."""

import re
from itertools import count
from typing import Any

from tests.examiner import pages
from tests.examiner.pages import Lens

HTMX = {"HX-Request": "true"}
SPHERE, CYLINDER, SECOND_SPHERE, TRIAL = "R.1", "R.2", "R.3", "R.4"
CASE = re.compile(r'name="case" value="([0-9a-f]{12})"')
STEPS_D = [0.25 * k for k in range(1, 17)] + [4.5, 5.0, 5.5, 6.0]
STEPS_D += [*range(7, 15), 16.0, 18.0, 20.0]
LARGEST_CYLINDER_D = 3.5  # in quarters; above, the set has halves
TOP_LOGMAR, LETTER_LOGMAR = 1.1, 0.02


class Bench:
    """An attempt at one patient: lenses by power, letters by number, replies by code."""

    def __init__(self, browser: Any, case: str | None = None) -> None:
        self.browser = browser
        self.keys = count()
        self.questions = 0
        self.seconds = 0
        self.sphere_d = self.cylinder_d = 0.0
        self.axis_deg = 180
        self.inside: dict[str, str] = {}
        home = browser.get("/").text
        data = {"case": case or CASE.findall(home)[0], "mode": "practice"}
        begun = browser.post("/attempts", data=data, headers=HTMX)
        self.address = begun.headers["HX-Redirect"]
        self.page = browser.get(self.address).text
        self.given = pages.given_lens(self.page)
        self.wall = {"view": "chart", "line": "0.3", "light": "on"}

    def does(self, act: str, **fields: object) -> str:
        """Do an act, which must be taken."""
        data = {"client_key": f"press-{next(self.keys)}", "tab_id": "tab-1"}
        data |= {name: str(value) for name, value in fields.items()}
        answer = self.browser.post(f"{self.address}/{act}", data=data, headers=HTMX)
        assert answer.status_code == 200, f"{act} {fields}: {answer.text[:300]}"
        self.page = answer.text
        return self.page

    def asks(self, question: str) -> str:
        """Ask, and return the code of the reply."""
        self.questions += 1
        return pages.reply(self.does("ask", question=question))

    def letters(self) -> int:
        """Hang up the whole chart and return how many letters are read."""
        self.hangs("chart")
        self.asks("read-down")
        return pages.letters_read(self.page)

    def hangs(self, view: str, line_logmar: float | None = None, light: str = "on") -> None:
        """Hang something else on the wall and see to the light, where they are not so already."""
        wanted = {"view": view, "light": light}
        if line_logmar is not None:
            wanted["line"] = f"{min(1.0, max(-0.3, round(line_logmar, 1))):.1f}"
        changed = {name: value for name, value in wanted.items() if self.wall[name] != value}
        if changed:
            self.does("wall", **changed)
            self.wall |= changed

    # ---- lenses

    def puts(self, at: str, code: str | None) -> None:
        """See that a place holds a lens, or nothing."""
        if self.inside.get(at) == code:
            return
        if at in self.inside:
            self.does("take", at=at)
            del self.inside[at]
        if code is not None:
            self.does("place", at=at, code=code)
            self.inside[at] = code

    def sets(self, sphere_d: float, cylinder_d: float = 0.0, axis_deg: int = 180) -> None:
        """Set sphere, minus cylinder and axis, each to the nearest that the case can make."""
        self.puts_sphere(sphere_d)
        self.cylinder_d = min(0.0, quarter(cylinder_d))
        if self.cylinder_d < -LARGEST_CYLINDER_D:
            self.cylinder_d = round(2 * self.cylinder_d) / 2
        self.puts(CYLINDER, code("cylinder", self.cylinder_d))
        if self.cylinder_d:
            self.turns(axis_deg)

    def turns(self, axis_deg: int) -> None:
        """Turn the cylinder; its place keeps its direction, so it is always told."""
        self.axis_deg = (axis_deg - 1) % 180 + 1
        self.does("turn", at=CYLINDER, to=self.axis_deg)

    def moves_sphere(self, by_d: float) -> None:
        """Change the sphere alone."""
        self.puts_sphere(self.sphere_d + by_d)

    def puts_sphere(self, power_d: float) -> None:
        """Set the sphere; the next plus is in before the last plus comes out."""
        before_d, self.sphere_d = self.sphere_d, quarter(power_d)
        first, second = spheres_of(self.sphere_d)
        covered = 0.0 < before_d < self.sphere_d
        if covered:
            self.puts(TRIAL, code("sphere", first))
        self.puts(SPHERE, code("sphere", first))
        self.puts(SECOND_SPHERE, code("sphere", second))
        if covered:
            self.puts(TRIAL, None)

    @property
    def powers(self) -> tuple[float, float, int]:
        """Sphere, cylinder and axis, as `sets` takes them."""
        return self.sphere_d, self.cylinder_d, self.axis_deg

    @property
    def mean_d(self) -> float:
        """The spherical equivalent of what is set."""
        return self.sphere_d + self.cylinder_d / 2

    @property
    def lens(self) -> Lens:
        """What is set."""
        return Lens(self.sphere_d, self.cylinder_d, self.axis_deg)

    # ---- the end

    def finishes(self, **fields: str) -> str:
        """Write the card, finish, and return the review."""
        self.seconds = pages.patient_seconds(self.page)
        for name, text in fields.items():
            self.does("card", field=name, text=text)
        self.does("finish")
        return str(self.browser.get(f"{self.address}/review").text)


def quarter(power_d: float) -> float:
    """Return a power to the nearest quarter."""
    return round(4 * power_d) / 4


def code(kind: str, power_d: float) -> str | None:
    """Return a lens's code; None for no power."""
    return f"{kind}{power_d:+.2f}" if power_d else None


def spheres_of(power_d: float) -> tuple[float, float]:
    """Return the strongest sphere of the set within a power, and what is left of it."""
    sign = 1.0 if power_d > 0 else -1.0
    first = max((step for step in STEPS_D if step <= abs(power_d)), default=0.0)
    return sign * first, sign * (abs(power_d) - first)


def acuity_logmar(letters: float) -> float:
    """Return the acuity of a number of letters read from the top of the chart."""
    return TOP_LOGMAR - LETTER_LOGMAR * letters


def acuity_text(letters: float) -> str:
    """Return an acuity as the card takes it."""
    logmar = acuity_logmar(letters)
    return f"6/{6 * 10**logmar:.1f}" if letters else "CF"
