"""serve: the service and its page, until it is interrupted."""

from collections.abc import Iterator
from typing import Annotated, Final

import typer

from optimiser.cli.commands.words import user
from optimiser.cli.outcome import AsJson, StoreUrl, View
from optimiser.cli.printing import as_json as json_text
from optimiser.cli.printing import paragraph, whole


def serve(
    host: Annotated[str, typer.Option(help="Address to listen at.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port; 0 for any that is free.")] = 8765,
    lan: Annotated[bool, typer.Option("--lan", help="Let other devices in, each paired by a code once.")] = False,
    name: Annotated[list[str] | None, typer.Option(help="A host name under which it is asked for.")] = None,
    root_path: Annotated[str, typer.Option(help="Path that a proxy in front puts before it, as in /amps.")] = "",
    store: StoreUrl = None,
    as_json: AsJson = False,
) -> None:
    """Serve the studies to a browser on this machine, with --lan to phones and tablets too."""
    from optimiser.service import Serving
    from optimiser.service import serve as run

    serving = Serving(host, port, lan, tuple(name or ()), root_path)
    said: list[View] = []

    def _say(view: View) -> None:
        if not as_json:
            typer.echo("\n".join(_say_address(view) if not said else _say_link(view)))
        elif not said:
            typer.echo(json_text(view))
        said.append(view)

    run(store, serving, user(), _say)


def _say_address(view: View) -> Iterator[str]:
    yield from whole("Serving the studies of", view["store"])
    yield f"Open      {view['address']}"
    if view["paired"]:
        yield from _say_link(view)
    for caution in view["cautions"]:
        yield from paragraph(caution, 10, "Caution:")
    yield "Ctrl-C ends it; what was stored stays stored."


def _say_link(view: View) -> Iterator[str]:
    """The link for the next device, and as a code to be scanned."""
    import io

    import segno

    drawn = io.StringIO()
    segno.make(view["link"], error="m").terminal(drawn, compact=True)
    yield from paragraph("Scan this with the next device, or open the link there, within ten minutes; it works once:")
    yield drawn.getvalue().rstrip("\n")
    yield view["link"]


COMMANDS: Final = (serve,)
