"""The sphere: found roughly by letters, fogged until letters fall, unfogged by what is gained."""

from tests.examiner.bench import TRIAL, Bench, acuity_logmar, code

LINE = 5  # letters
FALL = 10  # letters that fog must take
SEEN = 3  # letters, fewer may be luck
NOTHING_LOST, GAINED = -1, 3  # letters
READS_WELL_LOGMAR = 0.3
READS_UNASTIGMATIC_LOGMAR = 0.1  # a cylinder below 1.00
TWO_COLOURS_LOGMAR = 0.2
BRACKET_D = (0.5, 0.0, -0.5, -1.0, -1.5)  # plus first
MOST_WAITS, WAITING_D = 6, 0.5
SCAN_D = (3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 12.0, -12.0)


def coarse_step_d(letters: int) -> float:
    """Return by how much to change a sphere, by the acuity."""
    acuity = acuity_logmar(letters)
    return 2.0 if acuity > 1.0 else 1.0 if acuity > 0.6 else 0.5


def fine_step_d(best: int) -> float:
    """Return the step near the end, by the best acuity."""
    acuity = acuity_logmar(best)
    return 0.25 if acuity <= 0.31 else 0.5 if acuity <= 0.71 else 1.0


def find_roughly(bench: Bench) -> int:
    """Climb to about the best sphere, plus offered first; return the letters read there."""
    start_d = bench.sphere_d
    letters = bench.letters()
    for away_d in SCAN_D:
        if letters >= SEEN:
            break
        bench.moves_sphere(start_d + away_d - bench.sphere_d)
        letters = bench.letters()
    step_d, way = coarse_step_d(letters), +1
    while step_d >= 0.5:
        gained, letters = climb(bench, way * step_d, letters)
        if not gained:
            gained, letters = climb(bench, -way * step_d, letters)
            way = -way if gained else +1
        step_d = min(step_d if gained else step_d / 2, coarse_step_d(letters))
        if not gained and acuity_logmar(letters) < READS_WELL_LOGMAR:
            break
    return letters


def climb(bench: Bench, by_d: float, letters: int) -> tuple[bool, int]:
    """Offer a change; plus is taken if it loses nothing, minus if it gains."""
    bench.moves_sphere(by_d)
    now = bench.letters()
    if now >= SEEN and now - letters >= (NOTHING_LOST if by_d > 0 else GAINED):
        return True, now
    bench.moves_sphere(-by_d)
    return False, letters


def fog(bench: Bench, best: int) -> int:
    """Add plus until letters have really fallen, by half if few; return what is still read."""
    letters = best
    while letters > max(best - FALL, best // 2):
        bench.moves_sphere(max(1.0, 2 * fine_step_d(best)))
        letters = bench.letters()
        best = max(best, letters)
    return letters


def unfog(bench: Bench, letters: int, best: int) -> int:
    """Take plus away while letters are gained, to the second refusal; return what is read.

    Where letters are still missing the second offer is twice as large.
    """
    refused = False
    while True:
        short = best - letters
        step_d = fine_step_d(best) * (2 if short > 3 * LINE else 1)
        enough = 2 if short > LINE else LINE
        if refused and acuity_logmar(letters) > READS_UNASTIGMATIC_LOGMAR:
            step_d, enough = 2 * step_d, GAINED
        taken, letters = offer_minus(bench, letters, step_d, enough)
        best = max(best, letters)
        if refused and not taken:
            return letters
        refused = not taken


def offer_minus(bench: Bench, letters: int, step_d: float, enough: int) -> tuple[bool, int]:
    """Offer minus: taken for enough letters, or if preferred twice and letters are gained."""
    bench.puts(TRIAL, code("sphere", -step_d))
    now = bench.letters()
    gained = now - letters
    taken = gained >= enough
    if not taken and gained > -2:
        preferred = preferred_twice(bench)
        taken = preferred and gained > 0
        if preferred and not taken:  # one reading may be unlucky
            bench.puts(TRIAL, code("sphere", -step_d))
            again = bench.letters()
            taken, now = (now + again) / 2 > letters, max(now, again)
    bench.puts(TRIAL, None)
    if taken:
        bench.moves_sphere(-step_d)
        return True, now
    return False, letters


def preferred_twice(bench: Bench) -> bool:
    """Ask of the trial lens with and without, then without and with; leave it out."""
    if bench.asks("better") != "better":
        return False
    bench.puts(TRIAL, None)
    return bench.asks("better") == "worse"


def fogged_sphere(bench: Bench, letters: int) -> int:
    """Fog and unfog: the most plus that reads best, else the sphere that was there before."""
    start_d = bench.sphere_d
    found = unfog(bench, wait_in(bench, fog(bench, letters)), letters)
    if letters - found < LINE:
        return found
    found_d = bench.sphere_d
    bench.moves_sphere(start_d - found_d)
    again = bench.letters()
    if again - found >= GAINED:
        return again
    bench.moves_sphere(found_d - start_d)
    return found


def wait_in(bench: Bench, letters: int) -> int:
    """Leave an eye that takes plus in its fog while that clears, and fog it again."""
    for _ in range(MOST_WAITS):
        if bench.sphere_d <= 0.0 or bench.asks("wait") != "clears":
            break
        bench.moves_sphere(WAITING_D)
        letters = bench.letters()
    return letters


def toward_least_confusion(bench: Bench, letters: int, guess_d: float) -> int:
    """Where a pinhole reads more, go to the middle of the spheres that read alike.

    With a large cylinder left, letters hardly change between the focal lines, and a cross cylinder
    shown at one of them misleads. The cylinder that the acuity speaks of bounds the way.
    """
    if acuity_logmar(letters) <= READS_UNASTIGMATIC_LOGMAR:
        return letters
    bench.puts(TRIAL, "pinhole1.2")
    gained = bench.letters() - letters
    bench.puts(TRIAL, None)
    if gained < GAINED:
        return letters
    start_d, least = bench.sphere_d, letters - GAINED
    while start_d - bench.sphere_d < guess_d:
        bench.moves_sphere(-0.5)
        if bench.letters() < least:
            break
    bench.moves_sphere((start_d - bench.sphere_d) / 2)
    return bench.letters()


def bracket(bench: Bench, letters: int) -> int:
    """Where little is read and one reading says little: the most plus of five that reads best."""
    if acuity_logmar(letters) <= READS_UNASTIGMATIC_LOGMAR:
        return letters
    start_d, read = bench.sphere_d, {}
    for away_d in BRACKET_D:
        bench.moves_sphere(start_d + away_d - bench.sphere_d)
        read[away_d] = bench.letters()
    best = max(read.values())
    chosen_d = next(away_d for away_d in BRACKET_D if read[away_d] > best - GAINED)
    bench.moves_sphere(start_d + chosen_d - bench.sphere_d)
    return read[chosen_d]


def duochrome(bench: Bench, letters: int) -> None:
    """Move the sphere by one step at most, by two like answers in a dim room; 6/9 is needed."""
    if acuity_logmar(letters) > TWO_COLOURS_LOGMAR:
        return
    bench.hangs("duochrome", acuity_logmar(letters) + 0.2, light="off")
    first = bench.asks("colour")
    if first not in ("red", "green") or bench.asks("colour") != first:
        return
    bench.moves_sphere(-0.25 if first == "red" else 0.25)
