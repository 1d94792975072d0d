"""The command line. Heavy parts are imported by the command that needs them, so that --help answers at once."""

import os
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from uuid import uuid4

import typer

from app.errors import LogbookError, Unavailable

if TYPE_CHECKING:
    from app.config import Settings
    from app.database import Database

app = typer.Typer(
    name="shedbook",
    help="The technical-inspection logbook of a race series: measure, decide, sign, keep.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Host = Annotated[str, typer.Option(help="Address to listen on.")]
Port = Annotated[int, typer.Option(help="Port to listen on.")]


@app.command()
def serve(host: Host = "127.0.0.1", port: Port = 8000) -> None:
    """Serve the logbook (first brings its database up to date)."""
    from app.config import Settings

    settings = _reachable(Settings(), host, port)
    _bring_up_to_date(settings)
    if _nobody_can_sign_in(settings):
        print("Nobody can sign in yet. Make the first administrator with: shedbook add-person --help")
    _run(settings, host, port)


@app.command()
def demo(host: Host = "127.0.0.1", port: Port = 8000) -> None:
    """Serve a demo season of our own invention, kept apart from any real logbook."""
    from app.config import Settings

    base = Settings()
    settings = _reachable(
        base.model_copy(update={"data_folder": base.data_folder / "demo", "database_url": ""}), host, port
    )
    _bring_up_to_date(settings)
    from app.demo import DEMO_SIGN_INS, is_loaded

    if not is_loaded(settings):
        print("Loading the demo season (once)…", flush=True)
        from app.demo.season import load_season

        load_season(settings)
    print(
        f"\nShedbook, demo season:  http://{host}:{port}\n\n"
        "  sign in as        password                PIN     who it is"
    )
    for name, password, pin, who in DEMO_SIGN_INS:
        print(f"  {name:<17} {password:<23} {pin or '–':<7} {who}")
    print("\nStop with Ctrl-C.\n", flush=True)
    _run(settings, host, port)


@app.command()
def migrate() -> None:
    """Bring the database up to date."""
    from app.config import Settings

    _bring_up_to_date(Settings())
    print("The database is up to date.")


@app.command("add-person")
def add_person(
    sign_in_name: Annotated[str, typer.Argument(help="Small letters, digits, points and dashes.")],
    full_name: Annotated[str, typer.Option(prompt=True)],
    role: Annotated[
        list[str], typer.Option(help="administrator, official, inspector or competitor; may be repeated.")
    ] = ["administrator"],  # noqa: B006
    password: Annotated[str, typer.Option(prompt=True, hide_input=True, confirmation_prompt=True)] = "",
) -> None:
    """Add somebody who can sign in: the first administrator, to begin with."""
    from app.config import Settings
    from app.officials import service
    from app.officials.schemas import PersonIn
    from app.parsing import parse

    settings = Settings()
    _bring_up_to_date(settings)
    database = _database(settings)
    typed = {"sign_in_name": sign_in_name, "full_name": full_name, "roles": role, "password": password}
    try:
        data = parse(PersonIn, typed)
        with database.write() as session:
            service.add_person(session, "command line", uuid4(), data, settings.units)
    except LogbookError as error:
        for sentence in error.errors.values() or [error.message]:
            print(sentence)
        raise typer.Exit(2) from None
    finally:
        database.close()
    print(f"{full_name} can sign in as {sign_in_name}.")


@app.command()
def verify(
    file: Annotated[Path, typer.Argument(help="A slip or a notice (PDF).")],
    authority: Annotated[
        Path | None, typer.Option(help="The series authority's certificate (PEM); without it, this logbook's own.")
    ] = None,
) -> None:
    """Say whether a slip or a notice is genuine or altered, and which of its promises hold."""
    from app.config import Settings
    from app.slips.findings import NOT_KNOWN_OFFLINE
    from app.slips.verification import verify_slip

    certificate = authority or Settings().keys_folder / "series-authority.pem"
    for path, what in ((file, "slip or notice"), (certificate, "series authority's certificate")):
        if not path.is_file():
            print(f"There is no file {path} to read the {what} from. Check the name.")
            raise typer.Exit(2)
    result = verify_slip(file.read_bytes(), certificate.read_text())
    print(result.sentence)
    for finding in result.findings:
        print(f"  {finding.question} {finding.sentence}")
    if result.genuine and result.record is not None:
        head = result.record.get("slip") or result.record["notice"]
        print(f"{NOT_KNOWN_OFFLINE}\n  {head['verify_url']}")
    raise typer.Exit(0 if result.genuine else 1)


@app.command()
def backup(target: Annotated[Path, typer.Argument(help="The file to write, best on another disk.")]) -> None:
    """Copy the logbook while it is served, and check the copy. The keys are not in it: keep them apart."""
    from app.backing_up import back_up
    from app.config import Settings

    database = _database(Settings())
    try:
        found = back_up(database, target)
    finally:
        database.close()
    if found.broken_at is not None:
        print(
            f"Copied to {target}, but its log breaks at entry {found.broken_at}, as the logbook's own does. Look there."
        )
        raise typer.Exit(1)
    print(f"Copied to {target}: the database is sound and all {found.entries} log entries hold.")


@app.command()
def evaluate(
    file: Annotated[Path | None, typer.Argument(help="What was measured, as JSON; - reads it from a pipe.")] = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON schema of such a file.")] = False,
    example: Annotated[str, typer.Option(help="Print an example: metric or inch.")] = "",
) -> None:
    """Work out a verdict with its full budget from a file. Nothing is stored."""
    import json

    from app.errors import Invalid
    from app.inspections.whatif import EXAMPLES, MOST_BYTES, EvaluateIn, asked, evaluated, read_json

    if schema or example:
        if example and example not in EXAMPLES:
            print(f"There is an example for {' and for '.join(EXAMPLES)}. Choose one.", file=sys.stderr)
            raise typer.Exit(2)
        print(
            json.dumps(EXAMPLES[example] if example else EvaluateIn.model_json_schema(), indent=2, ensure_ascii=False)
        )
        return
    from_pipe = file == Path("-")
    if file is None or not (from_pipe or file.is_file()):
        name = "Name the file to evaluate" if file is None else f"There is no file {file}. Check the name"
        print(f"{name}; --example metric prints one to begin with.", file=sys.stderr)
        raise typer.Exit(2)
    try:
        with sys.stdin.buffer if from_pipe else file.open("rb") as opened:
            found = evaluated(asked(read_json(opened.read(MOST_BYTES + 1))))
    except Invalid as error:
        for place, sentence in error.errors.items():
            print(f"{place}: {sentence}" if place else sentence, file=sys.stderr)
        raise typer.Exit(2) from None
    print(json.dumps(found.model_dump(), indent=2, ensure_ascii=False))


@app.command()
def recompute(
    only_verdicts: Annotated[bool, typer.Option(help="List only what is decided otherwise, not every figure.")] = False,
) -> None:
    """Work out every stored verdict again with today's core and list what differs. Nothing stored is changed."""
    from itertools import chain

    from app.bench_sheets.recomputing import recompute_bench_sheets
    from app.config import Settings
    from app.inspections.recomputing import Tally, is_a_logbook, recompute_all
    from app.metrology import CORE_VERSION
    from app.slips import service as slips

    database, tally = _database(Settings()), Tally()
    try:
        if not is_a_logbook(database):
            print(f"There is no logbook in {database.engine.url}. Name the right one.")
            raise typer.Exit(2)
        for block in chain(recompute_all(database), recompute_bench_sheets(database)):
            listed = [one for one in block if one.verdict_differs or (one.differences and not only_verdicts)]
            with database.read() as session:
                numbers = slips.slips_of_inspections(session, [one.inspection_id for one in listed])
            for one in block:
                tally.add(one)
            for one in listed:
                slip = numbers.get(one.inspection_id)
                print(
                    f"{slip.number if slip else 'no slip yet'}, car {one.car_number}, {one.event_name}, "
                    f"sheet {one.inspection_id}: core {one.core_version} → {CORE_VERSION}"
                )
                for difference in one.differences:
                    print(f"  {difference.what}: {difference.old} → {difference.new}")
    finally:
        database.close()
    print("\n".join(tally.lines(CORE_VERSION)))
    raise typer.Exit(1 if tally.other_verdict.total() else 0)


def _reachable(settings: "Settings", host: str, port: int) -> "Settings":
    """The address asked for is one the server answers to, and the one printed on slips unless another was set."""
    update: dict[str, object] = {"allowed_hosts": tuple(dict.fromkeys((*settings.allowed_hosts, host)))}
    if "public_url" not in settings.model_fields_set:
        update["public_url"] = f"http://{host}:{port}"
    return settings.model_copy(update=update)


def _database(settings: "Settings") -> "Database":
    from app.database import Database

    try:
        settings.data_folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise Unavailable(
            f"The folder {settings.data_folder} cannot be used ({error.strerror})."
            " Choose another with SHEDBOOK_DATA_FOLDER."
        ) from error
    return Database(settings.resolved_database_url)


def _bring_up_to_date(settings: "Settings") -> None:
    from app.migrating import bring_up_to_date

    database = _database(settings)
    try:
        bring_up_to_date(database)
    finally:
        database.close()


def _nobody_can_sign_in(settings: "Settings") -> bool:
    from app.officials import service

    database = _database(settings)
    try:
        with database.read() as session:
            return not service.people(session)
    finally:
        database.close()


def _run(settings: "Settings", host: str, port: int) -> None:
    import uvicorn

    from app.main import create_app

    try:
        socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET).close()
    except OSError as error:
        why = os.strerror(error.errno) if error.errno else str(error)
        raise Unavailable(
            f"Shedbook cannot listen on {host} port {port} ({why}). Choose another with --host or --port."
        ) from error
    print(f"Shedbook serves on http://{host}:{port}", flush=True)
    uvicorn.run(
        create_app(settings),
        host=host,
        port=port,
        log_level="warning",
        timeout_graceful_shutdown=3,
        server_header=False,
    )


def main() -> None:
    """What can be put right from outside is said in a sentence, without a stack trace."""
    try:
        app()
    except LogbookError as error:
        print(error.message, file=sys.stderr)
        sys.exit(1)


if __name__ == "__main__":
    main()
