"""Answers to notices: asked for, proved, read, and taken through the door of every word.

An answer counts when its token is right, in time, and comes from whom it was asked; then it has
one effect, however often it comes. What is not sure is asked about once and has none. Nothing
that arrives here can do more than write a word into the journal, which can be taken back.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from email.utils import parseaddr
from hashlib import sha256
from itertools import product

from msgspec import Struct
from msgspec.structs import replace

from strawbell.app.identity import names_had
from strawbell.app.outbox import (
    ANSWERABLE_D,
    AnswerClaim,
    answer_claim,
    proves,
    queue,
    read_token,
    tokens_in,
)
from strawbell.app.ports import Arrival, Bounce, Channel, Ear, IgnoredFor, Reply, Store, Unheard
from strawbell.app.taking import answered, nothing_due
from strawbell.app.word import Case, Word, WordKind, is_called, quoted, refusal, tongue_of
from strawbell.decision.brief import brief
from strawbell.errors import GrowerError
from strawbell.model.brief import NOT_JUDGED, Brief, State, Task
from strawbell.model.configuration import BY_MAIL, Helper
from strawbell.model.garden import Garden, slug
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import (
    Answer,
    Doubt,
    Fed,
    Heard,
    How,
    Inside,
    Later,
    Notice,
    NoticeKind,
    OutboxRow,
    OutboxState,
    Picked,
    Remark,
    Undo,
    Useful,
    Work,
)
from strawbell.season.due_times import quiet
from strawbell.season.journal_index import ANSWERED_BY, JournalIndex, last_words
from strawbell.season.local_time import DAY, moment_of
from strawbell.words.answers import read_lines
from strawbell.words.catalogue import BRITISH
from strawbell.words.notices import (
    bounce_notice,
    how_notice,
    question_notice,
    reminder_notice,
    trouble_notice,
    warning_notice,
)

UNHEARD_USEFUL = timedelta(days=1)
"""How long word is useful that answers cannot be read."""
SOON_S = 1.0
"""When an ear that has more is asked again [s]."""
REFUSED_S = 15.0
"""When an ear is asked again whose answers the store did not take [s]."""
REMIND_AFTER = timedelta(hours=3)
"""How much later "later" is; at 06:30 it means half past nine."""
MOST_QUESTIONS = 3
"""Questions back about answers of one token that are not understood."""
MARK_LENGTH = 8
LETTER_KEPT = timedelta(days=1)
"""How long something said back is worth sending."""
REPORTED_WITHIN_D = 14
"""How long after a mail a server may still report on it [day]; most give up after five."""
MOST_KEPT_IDENTITIES = 20
"""Replies by one token that are known again; the mailbox's own mark keeps the older ones away."""


class _Claimed(Struct, frozen=True):
    """A proved answer: of whom, about which date of which garden, and by which channel."""

    garden: Garden
    on: date
    claim: AnswerClaim
    token: str
    channel: Channel
    recipient: str


_OPEN = (State.DUE, State.HELD)


def _as_told(today: Brief, index: JournalIndex, on: date) -> list[Task]:
    """Return the work of a day as it was told on a date.

    No forecast is at hand where answers are read: judged without one, feed that was held for a
    storm would be due.
    """
    found = []
    for task in today.tasks:
        log = index.batch(task.batch)
        state = log.told.get(on, {}).get(task.key)
        if state is None:
            continue
        reasons = task.reasons
        if task.key not in log.conditional.get(on, ()):
            reasons = tuple(why for why in reasons if why.code not in NOT_JUDGED)
        state = state if task.state in _OPEN else task.state
        found.append(replace(task, state=state, reasons=reasons))
    return found


_Effects = tuple[list[JournalEntry], list[tuple[Notice, datetime]]]
"""Rows to be written, and what is said back and when."""


class _Used(Struct, frozen=True):
    """What came by one token: which replies, the word on the work, and the other facts.

    Each fact has one effect, in whatever order the replies come again; a verdict corrects the one
    before it. What is taken back may be said anew.
    """

    seen: tuple[str, ...] = ()
    said: str = ""
    facts: tuple[str, ...] = ()

    @classmethod
    def read(cls, mark: str) -> _Used:
        """Return what a mark says."""
        kept = json.loads(mark or "{}")
        return cls(tuple(kept.get("seen", ())), kept.get("said", ""), tuple(kept.get("facts", ())))

    def fresh(self, answers: Sequence[Answer]) -> tuple[Answer, ...]:
        """Return the answers that have an effect yet."""
        is_new = _verdicts(answers) != self.said
        return tuple(
            each
            for each in answers
            if (is_new if isinstance(each, (Work, Fed)) else repr(each) not in self.facts)
        )

    def taken(self, answers: Sequence[Answer]) -> _Used:
        """Return this with further answers that had their effect."""
        facts = tuple(repr(each) for each in answers if not isinstance(each, (Work, Fed)))
        if any(isinstance(each, Undo) for each in answers):
            return replace(self, said="", facts=facts)
        kept = tuple(each for each in self.facts if not each.startswith(Undo.__name__))
        return replace(self, said=_verdicts(answers) or self.said, facts=(*kept, *facts))

    def text(self, identity: str) -> str:
        """Return it as a mark, with one more reply."""
        seen = [*self.seen, identity][-MOST_KEPT_IDENTITIES:]
        facts = list(self.facts[-MOST_KEPT_IDENTITIES:])
        return json.dumps({"seen": seen, "said": self.said, "facts": facts})


def _verdicts(answers: Sequence[Answer]) -> str:
    found = [each for each in answers if isinstance(each, (Work, Fed))]
    return repr(tuple(found)) if found else ""


class Answering:
    """Asks each ear of a daemon in its time, and takes what they gather.

    Of the ears nothing is remembered but moments of the monotonic clock [s].
    """

    def __init__(
        self,
        gardens: Sequence[Garden],
        store: Store,
        channels: Sequence[Channel],
        spare: Channel | None = None,
        helpers: Sequence[Helper] = (),
        ears: Sequence[Ear] = (),
    ) -> None:
        """Keep the parts; every ear is due at first. `spare` is told what no other channel can."""
        self.ears = tuple(ears)
        self._helpers = tuple(helpers)
        self._gardens, self._store, self._channels = tuple(gardens), store, tuple(channels)
        self._spare = spare
        self._called: dict[str, tuple[str, ...]] | None = None
        """Every name that a garden had, by its last one; read when the first answer comes."""
        self._guard = threading.Lock()
        self._next_s: dict[str, float] = {}
        self._unheard: set[str] = set()

    def call(self, ring: Callable[[], object] | None) -> None:
        """Let every ear ring when something comes by itself; None: none is wanted any more."""
        for ear in self.ears:
            ear.call(ring)

    def due(self, now_s: float) -> tuple[Ear, ...]:
        """Return the ears that are to be asked now."""
        with self._guard:
            return tuple(
                ear
                for ear in self.ears
                if ear.is_ringing or now_s >= self._next_s.get(ear.name, now_s)
            )

    def wait_s(self, now_s: float) -> float:
        """Return how long it is until an ear is due [s]; infinite without any."""
        with self._guard:
            moments = (self._next_s.get(ear.name, now_s) for ear in self.ears)
            return max(0.0, min(moments, default=float("inf")) - now_s)

    def listen(self, ear: Ear, now: datetime, now_s: float) -> tuple[str, ...]:
        """Ask one ear and take what came; return lines for the log.

        Raises `strawbell.errors.OperationalError` where the store failed: what was taken until
        then is on disk, and known when it is read again.
        """
        self._ask_next(ear, float("inf"))
        mark = f"ear {ear.name}"
        try:
            gathered = ear.gather(self._store.mark(mark), now)
            lines = [self.take(arrival, now) for arrival in gathered.arrivals]
            self._store.set_mark(mark, gathered.mark)
        except Unheard as error:
            self._ask_next(ear, now_s + ear.every_s)
            if error.settings_problem:
                self._tell_unheard(error, now)
            is_news = ear.name not in self._unheard
            self._unheard.add(ear.name)
            return (_line(ear, str(error)),) if is_news else ()
        except BaseException:
            self._ask_next(ear, now_s + REFUSED_S)
            raise
        self._unheard.discard(ear.name)
        self._ask_next(ear, now_s + (ear.every_s if gathered.is_all else SOON_S))
        return tuple(_line(ear, line) for line in lines if line)

    def _ask_next(self, ear: Ear, at_s: float) -> None:
        with self._guard:
            self._next_s[ear.name] = at_s

    def _tell_unheard(self, error: Unheard, now: datetime) -> None:
        """Tell what only the grower can mend; the key of the notice makes it once a date."""
        for garden in self._gardens[:1]:
            on, useful = garden.place.date_at(now), Useful(now, now + UNHEARD_USEFUL)
            notice = trouble_notice(garden, on, "answers", (str(error),), useful)
            self._store.enqueue(queue(notice, self._channels, now, self._store.secret))

    def take(self, arrival: Arrival, now: datetime) -> str:
        """Take one arrival, in one transaction; return why it had no effect, "" when it had one."""
        if isinstance(arrival, IgnoredFor):
            return ""
        if isinstance(arrival, Bounce):
            return self._bounced(arrival, now)
        claims = self._claimed(arrival)
        if not claims:
            # A mailbox holds other mail too, which is nobody's business here.
            is_meant = any(self._tokens(arrival))
            return BRITISH.say("heard.unproved") if is_meant else ""
        if arrival.sender is not None and bare(arrival.sender) != bare(claims[0].recipient):
            return BRITISH.say("heard.of-another", garden=claims[0].garden.name)
        with self._store.together():
            return self._taken(arrival, claims, now)

    def _taken(self, reply: Reply, claims: Sequence[_Claimed], now: datetime) -> str:
        claimed = claims[0]
        name = f"answer {claimed.token}"
        used = _Used.read(self._store.mark(name))
        if reply.identity in used.seen:
            return BRITISH.say("heard.again")
        heard = self._heard(reply, claimed)
        fresh = used.fresh(heard.answers)
        after = used
        if fresh:
            try:
                effects = [each for answer in fresh for each in self._meant(answer, claims, now)]
            except GrowerError as error:
                self._ask_back(claimed, heard, error.problems[0].what, now)
            else:
                for about, (rows, notices) in effects:
                    self._store.write(rows)
                    for notice, at in notices:
                        self._say(about, notice, now, at)
                after = used.taken(fresh)
        elif heard.doubt is not None:
            self._ask_back(claimed, heard, "", now)
        self._store.set_mark(name, after.text(reply.identity))
        if heard.answers and not fresh:
            return BRITISH.say("heard.before")
        return ""

    def _meant(
        self, answer: Answer, claims: Sequence[_Claimed], now: datetime
    ) -> list[tuple[_Claimed, _Effects]]:
        """Return what an answer to several gardens at once comes to, garden by garden.

        One that names a garden is about that one. Else it is about all that it fits, and a fact
        that only one can have must fit only one.
        """
        if len(claims) == 1:
            return [(claims[0], self._effects(answer, claims[0], now))]
        named = [(each, about) for each in claims if (about := _of_garden(answer, each.garden))]
        tried = named or [(each, answer) for each in claims]
        if isinstance(answer, Undo) and not named:
            tried = self._last_said(answer, claims)
        found: list[tuple[_Claimed, _Effects]] = []
        refused: GrowerError | None = None
        for claimed, said in tried:
            try:
                found.append((claimed, self._effects(said, claimed, now)))
            except GrowerError as error:
                refused = error
        if not found and refused is not None:
            raise refused
        if len(found) > 1 and isinstance(answer, (Inside, Picked, Fed, Remark)):
            if isinstance(answer, Remark):
                return found[:1]
            tongue = tongue_of(claims[0].garden)
            names = quoted((each.garden.name for each in claims), tongue, "or")
            raise refusal(tongue.say("refusal.which-garden", names=names), "record")
        return found

    def _last_said(self, answer: Undo, claims: Sequence[_Claimed]) -> list[tuple[_Claimed, Answer]]:
        """Return the gardens that the last words were about, all of one moment."""
        moments = {
            each.garden.name: max(
                (row.at for row in last_words(self._store.journal(each.garden.name))),
                default=None,
            )
            for each in claims
        }
        last = max((at for at in moments.values() if at is not None), default=None)
        return [(each, answer) for each in claims if moments[each.garden.name] == last]

    def _claimed(self, reply: Reply) -> tuple[_Claimed, ...]:
        """Return what a reply proves: the subject goes first, then what its program carried.

        It is about one date, and about several gardens where their mail was one.
        """
        subject = tokens_in(reply.subject)
        for tokens in self._tokens(reply):
            proved = [claimed for token in tokens if (claimed := self._proved(token, reply))]
            if not proved:
                continue
            if tokens == subject and len({(each.garden.name, each.on) for each in proved}) > 1:
                return ()
            first = proved[0]
            same = [each for each in proved if (each.on, each.recipient) == _whose(first)]
            return tuple({each.garden.name: each for each in same}.values())
        return ()

    def _tokens(self, reply: Reply) -> Iterator[tuple[str, ...]]:
        yield tokens_in(reply.subject)
        yield tuple(read for each in reply.carries if (read := read_token(each)))
        for text in (*reply.lines, *reply.carriers):
            yield tokens_in(text)

    def _proved(self, token: str, reply: Reply) -> _Claimed | None:
        for garden in self._gardens:
            received_on = garden.place.date_at(reply.received_at)
            for channel in self._channels:
                for recipient in (*channel.recipients, *self._helping(garden, channel)):
                    for name, back in product(self._names(garden), range(ANSWERABLE_D + 1)):
                        on = received_on - timedelta(days=back)
                        claim = answer_claim(name, on, recipient)
                        if proves(self._store.secret, claim, token, received_on):
                            return _Claimed(garden, on, claim, token, channel, recipient)
        return None

    def _helping(self, garden: Garden, channel: Channel) -> Iterator[str]:
        for each in self._helpers if channel.name == BY_MAIL else ():
            if each.looks_after(garden.name):
                yield each.address

    def _names(self, garden: Garden) -> tuple[str, ...]:
        """Return what a garden is and was called: a mail of before it was renamed is answered."""
        if self._called is None:
            self._called = names_had(self._store.known())
        names = self._called.get(garden.name, ())
        return tuple(dict.fromkeys((garden.name, *names)))

    def _heard(self, reply: Reply, claimed: _Claimed) -> Heard:
        """Return what a reply says; the word of a button stands in its subject."""
        if not reply.is_whole:
            return Heard(doubt=Doubt.NO_WORD)
        lines = [_without_tokens(line) for line in reply.lines]
        head, colon, _ = reply.subject.partition(":")
        units, on = claimed.garden.units, claimed.on
        if colon and read_lines([head], units, on).answers:
            lines = [head, *lines]
        today = claimed.garden.place.date_at(reply.received_at)
        return read_lines([line for line in lines if line], units, today)

    def _effects(self, answer: Answer, claimed: _Claimed, now: datetime) -> _Effects:
        """Return the rows that an answer comes to, and what is said back and when."""
        garden = claimed.garden
        journal = self._store.journal(garden.name)
        index = JournalIndex.of(journal)
        if isinstance(answer, How):
            return [], [(self._how(answer, claimed, index, now), now)]
        if isinstance(answer, Later):
            return [], [self._reminder(claimed, index, now)]
        rows: list[JournalEntry] = []
        notices: list[tuple[Notice, datetime]] = []
        said = Word(WordKind.SAID, on=claimed.on)
        for each, warnings in answered(answer, Case(said, garden, journal, index, now)):
            data = {ANSWERED_BY: claimed.channel.name}
            rows += [replace(row, data={**row.data, **data}) for row in each]
            if warnings:
                notices.append((warning_notice(garden, claimed.on, warnings, _letter(now)), now))
        if isinstance(answer, (Work, Fed)):
            self._forget_reminders(claimed)
        return rows, notices

    def _how(self, answer: How, claimed: _Claimed, index: JournalIndex, now: datetime) -> Notice:
        garden = claimed.garden
        today = brief(garden, index, None, now)
        tasks = [
            task
            for task in _as_told(today, index, today.on) or today.tasks
            if is_called(answer.about, task.batch, task.action.value, *task.crops, task.key.text())
        ]
        if not tasks:
            nothing_due(garden, claimed.on, answer.about)
        on = claimed.on
        return how_notice(garden, on, tasks, claimed.token[:5], _letter(now))

    def _reminder(
        self, claimed: _Claimed, index: JournalIndex, now: datetime
    ) -> tuple[Notice, datetime]:
        garden = claimed.garden
        zone = garden.place.zone
        today = brief(garden, index, None, now)
        due = [task for task in _as_told(today, index, today.on) if task.state is State.DUE]
        at = now + REMIND_AFTER
        is_too_late = at.astimezone(zone).date() != today.on or quiet(
            garden.times, at.astimezone(zone)
        )
        if is_too_late or not due or claimed.on != today.on:
            raise refusal(tongue_of(garden).say("refusal.no-reminder", due=bool(due)), "later")
        useful = Useful(at, moment_of(today.on + DAY, time(0), zone))
        return reminder_notice(garden, today.on, due, useful), at

    def _forget_reminders(self, claimed: _Claimed) -> None:
        """Let reminders go that were asked for and not sent yet: the answer came first."""
        for row in self._store.outbox(claimed.garden.name, claimed.on):
            is_waiting = row.state is OutboxState.DUE and row.kind is NoticeKind.ANSWER
            if is_waiting and "reminder" in json.loads(row.unique_key):
                self._store.move(
                    row.unique_key,
                    OutboxState.EXPIRED,
                    attempts=row.attempts,
                    next_attempt_at=row.next_attempt_at,
                    detail=BRITISH.say("heard.answered"),
                )
                self._store.mark_surfaced([row.unique_key])

    def _ask_back(self, claimed: _Claimed, heard: Heard, why: str, now: datetime) -> None:
        """Ask what an answer meant, once for each that is not understood, and no more than a few.

        The key of the notice sees to it that it is once: a program that answers every mail in the
        same words gets one question.
        """
        garden, mark = claimed.garden, claimed.token[:5]
        asked = sum(
            f"question {mark}" in row.unique_key
            for row in self._store.outbox(garden.name, claimed.on)
        )
        if asked >= MOST_QUESTIONS:
            return
        words = " ".join(heard.said.split())
        mark = f"{mark} {sha256(words.encode()).hexdigest()[:MARK_LENGTH]}"
        index = JournalIndex.of(self._store.journal(garden.name))
        tasks = [
            task
            for task in _as_told(brief(garden, index, None, now), index, claimed.on)
            if task.state in _OPEN
        ]
        notice = question_notice(garden, claimed.on, heard, why, tasks, mark, _letter(now))
        self._say(claimed, notice, now, now)

    def _say(self, claimed: _Claimed, notice: Notice, now: datetime, at: datetime) -> None:
        """Queue something for the one who answered, and for nobody else."""
        rows = queue(notice, (claimed.channel,), now, self._store.secret, to=claimed.recipient)
        self._store.enqueue([replace(row, next_attempt_at=at) for row in rows])

    def _bounced(self, bounce: Bounce, now: datetime) -> str:
        """Tell through another channel that a mail of ours came back.

        A report can be forged: it counts only for a message that is ours, and only to tell.
        """
        row = self._row_of(bounce, now)
        if row is None:
            return BRITISH.say("heard.not-ours")
        said = f"{bounce.status} {bounce.said}".strip()
        about = {"subject": row.subject, "whom": row.recipient, "said": said}
        if bounce.action != "failed":
            return BRITISH.say("heard.delayed", **about)
        others = [channel for channel in self._channels if channel.name != row.channel]
        if not others and self._spare is not None:
            others = [self._spare]
        garden = next(each for each in self._gardens if each.name == row.garden)
        notice = bounce_notice(row, said, tongue_of(garden), _letter(now))
        told = list(queue(notice, others, now, self._store.secret))
        for channel in self._channels:
            for recipient in channel.recipients:
                if channel.name == row.channel and recipient != row.recipient:
                    # Whoever else gets the mails is told by mail too.
                    told += queue(notice, (channel,), now, self._store.secret, to=recipient)
        with self._store.together():
            if self._store.enqueue(told) or not told:
                self._store.write((_bounce_row(row, said, now),))
        return BRITISH.say("heard.came-back", **about)

    def _row_of(self, bounce: Bounce, now: datetime) -> OutboxRow | None:
        for garden in self._gardens:
            since = now.date() - timedelta(days=REPORTED_WITHIN_D)
            for row in self._store.outbox(garden.name, since):
                if bounce.message_id and row.message_id == bounce.message_id:
                    return row
        return None


def _letter(now: datetime) -> Useful:
    """Return how long what is said back to an answer is worth sending."""
    return Useful(now, now + LETTER_KEPT)


def _line(ear: Ear, said: str) -> str:
    return BRITISH.say("daemon.line", about=ear.name, said=said)


def _whose(claimed: _Claimed) -> tuple[date, str]:
    return claimed.on, claimed.recipient


def _of_garden(answer: Answer, garden: Garden) -> Answer | None:
    """Return an answer that names a garden, without the name; None where it does not."""
    about = getattr(answer, "about", "")
    words, named = slug(about).split("-") if about else [], slug(garden.name).split("-")
    if not isinstance(answer, (Work, Fed, Inside, How, Undo)) or not set(named) <= set(words):
        return None
    return replace(answer, about=" ".join(word for word in words if word not in named))


def bare(address: str) -> str:
    """Return an address without its name and its tag, in small letters."""
    spec = parseaddr(address)[1].lower() or address.strip().lower()
    local, at, domain = spec.rpartition("@")
    return f"{local.partition('+')[0]}{at}{domain}"


def _bounce_row(row: OutboxRow, said: str, now: datetime) -> JournalEntry:
    return JournalEntry(
        now, row.garden, row.local_date, EntryKind.DELIVERY, state="came-back",
        text=said,
        data={"channel": row.channel, "recipient": row.recipient, "message_id": row.message_id},
    )  # fmt: skip


def _without_tokens(line: str) -> str:
    for start in range(line.count("[")):
        del start
        begin, end = line.find("["), line.find("]")
        if 0 <= begin < end and read_token(line[begin : end + 1]) is not None:
            line = f"{line[:begin]} {line[end + 1 :]}".strip()
    return line
