"""``filmhand guide``: the longer pages."""

from __future__ import annotations

import click

from filmhand.cli.options import example


@click.command(epilog=example("filmhand guide tickets"))
@click.argument("page", required=False)
def guide(page: str | None) -> None:
    """Show the longer pages: all their names, or one PAGE."""
    from filmhand.guide import page_names, read_page  # noqa: PLC0415

    if page is None:
        for name, title in page_names():
            click.echo(f"{name:16} {title}")
        click.echo("\nShow one with: filmhand guide NAME")
        return
    try:
        click.echo(read_page(page))
    except KeyError:
        names = ", ".join(name for name, _ in page_names())
        raise click.UsageError(
            f"There is no page {page!r} in the guide; there are {names}."
        ) from None
