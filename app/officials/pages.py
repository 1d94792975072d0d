from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from app.errors import Invalid, LogbookError, TooMany
from app.officials import api
from app.officials.access import Administrator, Anyone, MaybePerson
from app.officials.api import Keys
from app.officials.schemas import ROLES, PasswordIn, PersonIn, PinIn, PreferencesIn, SignIn
from app.parsing import parse
from app.web import Db, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "person-added": "The person is added and can sign in now.",
        "pin-set": "Your PIN is set. You can sign with it.",
        "preferences": "Kept.",
        "password": "Your password is changed. Sign in with the new one.",
    }
)


def _within(address: str) -> str:
    """Only a path of this logbook may follow a sign-in."""
    leads_away = address.startswith("//") or "\\" in address or not address.isprintable()  # browsers drop a tab
    return address if address.startswith("/") and not leads_away else "/"


_FIRST_PAGES = (
    ("inspector", "/shed"),
    ("official", "/events"),
    ("administrator", "/people"),
    ("competitor", "/my-record"),
)


@router.get("/")
def front_door(request: Request, who: MaybePerson) -> Response:
    """A stranger reads what this is; whoever is signed in stands where their work is."""
    if who is None:
        return page(request, "officials/front_door.html")
    return RedirectResponse(next(address for role, address in _FIRST_PAGES if who.may(role)), 303)


@router.get("/sign-in")
def sign_in_page(request: Request, who: MaybePerson, next: str = "/") -> Response:
    if who is not None:
        return RedirectResponse(_within(next), 303)
    return page(request, "officials/sign_in.html", next=_within(next))


@router.post("/sign-in")
def sign_in(request: Request, form: PostedForm, db: Db, who: MaybePerson) -> Response:
    back = _within(str(form.pop("next", "/")))
    answer = RedirectResponse(back, 303)
    try:
        api.sign_in(request, answer, parse(SignIn, form), db, who)
    except (Invalid, TooMany) as invalid:
        form.pop("password", None)
        return page(request, "officials/sign_in.html", invalid=invalid, form=form, next=back)
    return answer


@router.post("/sign-out")
def sign_out(request: Request, db: Db, who: MaybePerson) -> Response:
    answer = RedirectResponse("/", 303)
    api.sign_out(request, answer, db, who)
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


@router.get("/people")
def people_list(request: Request, db: Db, me: Administrator) -> Response:
    return page(request, "officials/people_list.html", api.list_people(db, me), roles=ROLES, person_id=uuid4())


@router.post("/people/{person_id}")
def add_person(request: Request, person_id: UUID, form: PostedForm, db: Db, me: Administrator) -> Response:
    try:
        api.put_person(request, person_id, parse(PersonIn, form), db, me)
    except LogbookError as invalid:
        form.pop("password", None)
        people = api.list_people(db, me)
        return page(
            request, "officials/people_list.html", people, invalid=invalid, form=form, roles=ROLES, person_id=person_id
        )
    return see_other(request, "people_list", done="person-added")


@router.get("/me")
def my_settings(request: Request, db: Db, me: Anyone) -> Response:
    return page(request, "officials/my_settings.html", api.read_me(db, me))


def _my_settings_again(request: Request, db: Db, me: Anyone, invalid: LogbookError, form: PostedForm) -> Response:
    kept = {name: value for name, value in form.items() if name in ("units", "pad_side")}
    return page(request, "officials/my_settings.html", api.read_me(db, me), invalid=invalid, form=kept)


@router.post("/me/preferences")
def set_preferences(request: Request, form: PostedForm, db: Db, me: Anyone) -> Response:
    try:
        api.put_preferences(parse(PreferencesIn, form), db, me)
    except LogbookError as invalid:
        return _my_settings_again(request, db, me, invalid, form)
    return see_other(request, "my_settings", done="preferences")


@router.post("/me/pin")
def set_pin(request: Request, form: PostedForm, db: Db, me: Anyone, keys: Keys) -> Response:
    try:
        api.set_pin(parse(PinIn, form), db, me, keys)
    except LogbookError as invalid:
        return _my_settings_again(request, db, me, invalid, form)
    return see_other(request, "my_settings", done="pin-set")


@router.post("/me/password")
def change_password(request: Request, form: PostedForm, db: Db, me: Anyone) -> Response:
    try:
        api.change_password(parse(PasswordIn, form), db, me)
    except LogbookError as invalid:
        return _my_settings_again(request, db, me, invalid, form)
    return see_other(request, "sign_in_page", done="password")
