"""The synchronous client: sends, sleeps, and nothing else."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from types import TracebackType
from typing import Any, Literal, Self

from glandwise_client import _http, _responses, _tables
from glandwise_client._base import Answer
from glandwise_client._batch import PUT_OFF, Batch, BatchItem, Message, Told
from glandwise_client._call import address, find_operation, transport_error
from glandwise_client._errors import GlandwiseError
from glandwise_client._operations import SyncOperations
from glandwise_client._requests import Operation, Prepared, R, Timeout, Timeouts, Units, build
from glandwise_client._retry import RetryPolicy, delay


class GlandwiseClient(SyncOperations):
    """Client of a Glandwise service.

    Parameters
    ----------
    base_url
        Address of the service; that of the environment variable ``GLANDWISE_URL`` when absent, or else
        ``http://127.0.0.1:8710``.
    units
        Units of the answers where a call names none: ``"si"``, ``"us"``, or single ones.
    timeout
        Seconds to wait, for every phase of a call or for each (:class:`Timeouts`).
    retry
        How patient to be; ``RetryPolicy(retries=0)`` switches retries off.
    headers
        Sent with every request. Where they hold no credentials, the token of the environment variable
        ``GLANDWISE_TOKEN`` goes along, if there is one.
    transport
        A transport of the HTTP library in place of its own, for instance for certificates or a proxy.
    trust_env
        Whether proxies, certificates and the token are taken from environment variables.
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        units: Units | None = None,
        timeout: float | Timeouts = Timeouts(),  # noqa: B008 - immutable
        retry: RetryPolicy = RetryPolicy(),  # noqa: B008 - immutable
        headers: Mapping[str, str] | None = None,
        transport: _http.SyncTransport | None = None,
        trust_env: bool = True,
    ) -> None:
        self.base_url = address(base_url)
        self.units = units
        self.retry = retry
        try:
            self._sender = _http.SyncSender(self.base_url, timeout, headers or {}, transport, trust_env)
        except _http.SendFailure as failure:
            raise transport_error(failure.kind, failure.text, self.base_url, None) from failure

    @classmethod
    def in_process(
        cls,
        app: Any = None,
        *,
        units: Units | None = None,
        timeout: float | Timeouts = Timeouts(),  # noqa: B008 - immutable
    ) -> Self:
        """Return a client that runs the service inside this process: no server, no network.

        ``app`` is the service's application; one with the service's own settings when absent. Raises ``ImportError``
        when the service is not installed.
        """
        transport = _http.SyncAppTransport(_http.load_app() if app is None else app)
        return cls("http://in-process", units=units, timeout=timeout, retry=RetryPolicy(retries=0), transport=transport)

    def fetch(
        self,
        operation: str,
        request: Any = None,
        *,
        accept: str = "application/json",
        content: bytes | None = None,
        content_type: str = "application/json",
        path: Mapping[str, Any] | None = None,
        timeout: Timeout = None,
        request_id: str | None = None,
        **fields: Any,
    ) -> Answer:
        """Call an operation by name and return its answer as it came, for instance a sheet in ``text/html``.

        ``content`` sends a body as it is, under ``content_type``, in place of a request written from fields.
        """
        prepared = build(
            find_operation(operation),
            request,
            fields,
            path,
            units=self.units,
            request_id=request_id,
            accept=accept,
            content=content,
            content_type=content_type,
        )
        return _responses.check(self._send(prepared, timeout))

    def drawing(
        self,
        operation: str,
        request: Any = None,
        *,
        form: Literal["svg", "dxf"] = "svg",
        timeout: Timeout = None,
        request_id: str | None = None,
        **fields: Any,
    ) -> Answer:
        """Return the drawing of an answer: the cross-section of its seal, or its plot; a notebook shows it.

        ``operation`` is one that draws, such as ``answer_enquiry`` or ``check_gland``; ``form="dxf"`` is for CAD. Raises
        ``NotAcceptable`` where the service has no such drawing.
        """
        accept = "image/vnd.dxf" if form == "dxf" else "image/svg+xml"
        return self.fetch(operation, request, accept=accept, timeout=timeout, request_id=request_id, **fields)

    def asset_shell(
        self, request: Any = None, *, timeout: Timeout = None, request_id: str | None = None, **fields: Any
    ) -> Answer:
        """Return the seal that an enquiry proposes as an Asset Administration Shell; its ``content`` is the file, in JSON.

        The request is that of ``answer_enquiry``. Raises ``NotAcceptable`` where the service lacks the library for it.
        """
        accept = "application/aas+json"
        return self.fetch("answer_enquiry", request, accept=accept, timeout=timeout, request_id=request_id, **fields)

    def table(
        self,
        frame: _tables.Frame,
        operation: _tables.Tabled = "check_envelope",
        *,
        size: int = _tables.SIZE,
        keep: Sequence[str] = (),
        prefix: str | None = None,
        units: Literal["si", "us"] | None = None,
        rule_set: str | None = None,
        as_of: date | str | None = None,
        progress: Told | None = None,
        timeout: Timeout = None,
    ) -> _tables.Frame:
        """Put a table of cases to an operation and return it with the answers beside its columns, row by row.

        ``frame`` is a DataFrame of pandas or polars or a Table of pyarrow, and what comes back is of the same kind, with the
        same rows in the same order. Its columns are those of a corpus of quotes, with units in the headings (``pressure
        [bar]``). A row that is refused has its ``fault`` and no answer; a heading that cannot be read raises
        ``InvalidRequest``. ``size`` rows go in a message.

        Parameters
        ----------
        frame
            The cases.
        operation
            What is asked: the envelope, friction, wear, or the verdict of a whole enquiry.
        keep
            Columns of your own, which are not sent.
        prefix
            What the names of the answers begin with; ``envelope.``, ``friction.``, ``wear.`` or ``enquiry.`` when absent.
        units
            ``"si"`` or ``"us"``, for the numbers of the answers.
        rule_set
            Rule set to judge by; the service's default when absent.
        as_of
            Take the rule values in force on this date; the newest ones when absent.
        progress
            Is told how many rows have been answered, and how many there are.
        """
        chosen, query = find_operation(operation), {"units": units, "rule_set": rule_set, "as_of": as_of}
        job = _tables.Job(
            chosen, frame, size=size, keep=keep, prefix=prefix, query=query, units=self.units, progress=progress
        )
        for message in job.messages():
            job.take(self._send(message, timeout))
        found: _tables.Frame = job.joined()
        return found

    def close(self) -> None:
        """Close the connections."""
        self._sender.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _call(
        self,
        operation: Operation[R],
        request: Any,
        fields: dict[str, Any],
        path: dict[str, Any],
        timeout: Timeout,
        request_id: str | None,
    ) -> R:
        prepared = build(operation, request, fields, path, units=self.units, request_id=request_id)
        return _responses.parse(operation, self._send(prepared, timeout))

    def _batch(
        self,
        operation: str,
        requests: Iterable[Any],
        size: int,
        after: int,
        progress: Told | None,
        timeout: Timeout,
        fields: dict[str, Any],
    ) -> Iterator[BatchItem[Any]]:
        job = Batch(find_operation(operation), requests, size, after, progress)
        for sent in job.messages(fields, self.units):
            try:
                self._exchange(job, sent, timeout)
            except GlandwiseError:  # what was answered before is handed over first, so that it need not be asked again
                yield from sent.items()
                raise
            yield from sent.items()

    def _exchange(self, job: Batch, sent: Message, timeout: Timeout) -> None:
        """Have a message answered; where the answer breaks off, or puts lines off, ask for what is left of it."""

        def take(piece: bytes) -> None:
            sent.take(piece)
            job.tell(sent)

        attempt = again = 0
        while (prepared := sent.prepared) is not None:
            held = sent.taken
            try:
                answer = self._sender.receive(prepared, timeout, sent.begin, take)
                if answer is None:
                    sent.end()
                    job.tell(sent)
                    wait = delay(self.retry, again, status=PUT_OFF, batch=True) if sent.put_off() else None
                    if wait is None:
                        return
                    attempt, again = 0, again + 1
                    time.sleep(wait)
                    continue
            except _http.SendFailure as failure:
                attempt = attempt if sent.taken == held else 0  # what goes on is no failure that lasts
                wait = delay(self.retry, attempt, failure=failure.kind, batch=True)
                if wait is None:
                    raise transport_error(failure.kind, failure.text, self.base_url, prepared.request_id) from failure
            else:
                wait = delay(self.retry, attempt, status=answer.status, headers=answer.headers, batch=True)
                if wait is None:
                    raise _responses.problem(answer)
            attempt += 1
            time.sleep(wait)

    def _send(self, prepared: Prepared, timeout: Timeout) -> Answer:
        for attempt in itertools.count():
            try:
                answer = self._sender.send(prepared, timeout)
            except _http.SendFailure as failure:
                wait = delay(self.retry, attempt, failure=failure.kind, batch=prepared.batch)
                if wait is None:
                    raise transport_error(failure.kind, failure.text, self.base_url, prepared.request_id) from failure
            else:
                wait = delay(self.retry, attempt, status=answer.status, headers=answer.headers, batch=prepared.batch)
                if wait is None:
                    return answer
            time.sleep(wait)
        raise AssertionError("unreachable")
