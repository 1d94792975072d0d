"""How our templates are read, for pages and slips alike: escaped, and a name that is not there is an error."""

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.config import SHARED_ROOT


def template_environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(SHARED_ROOT / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
