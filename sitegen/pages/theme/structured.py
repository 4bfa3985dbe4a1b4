"""Structured data by schema.org, written as JSON-LD: only what the page itself shows."""

import datetime as dt
import json
from collections.abc import Iterable
from typing import Any

from sitegen.pages.plan.standing import first_published, own_languages
from sitegen.pages.site import Sheet
from sitegen.pages.views import Entry, Finding, Link

CONTEXT = "https://schema.org"
_ESCAPES = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def to_script(nodes: Iterable[dict[str, Any]]) -> str:
    """JSON-LD that is safe inside a script element: no `<` can end it, whatever a text holds."""
    found = list(nodes)
    if not found:
        return ""
    whole = {"@context": CONTEXT, **found[0]} if len(found) == 1 else [{"@context": CONTEXT, **node} for node in found]
    text = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
    return (
        "".join(_ESCAPES.get(character, character) for character in text) if any(c in text for c in _ESCAPES) else text
    )


def breadcrumbs(sheet: Sheet, trail: Iterable[Link]) -> dict[str, Any]:
    """The trail: the steps at the addresses that their links lead to, the page itself at its canonical one."""
    steps, plan = [], sheet.site.plan
    for position, link in enumerate(trail, 1):
        item = plan.absolute(sheet.path) if link.current else plan.address + _from_root(sheet, link.href)
        steps.append({"@type": "ListItem", "position": position, "name": link.text, "item": item})
    return {"@type": "BreadcrumbList", "itemListElement": steps}


def _from_root(sheet: Sheet, href: str) -> str:
    """Where a link of the page leads, seen from the site's root."""
    from posixpath import dirname, join, normpath

    return normpath(join(dirname(sheet.path), href))


def person(name: str) -> dict[str, Any]:
    """A person by name."""
    return {"@type": "Person", "name": name}


def publisher(sheet: Sheet) -> dict[str, Any]:
    """The publication as an organisation."""
    return {
        "@type": "Organization",
        "name": sheet.say(sheet.site.publication.settings.name),
        "url": sheet.site.plan.address,
    }


def website(sheet: Sheet) -> dict[str, Any]:
    """The edition as a web site."""
    settings = sheet.site.publication.settings
    return {
        "@type": "WebSite", "name": sheet.say(settings.name), "url": sheet.site.plan.absolute(sheet.path),
        "inLanguage": sheet.tag, "publisher": publisher(sheet),
    }  # fmt: skip


def product_node(sheet: Sheet, id: str, findings: Iterable[Finding] = (), *, description: str = "") -> dict[str, Any]:
    """A product with its brand, picture and measured properties; no offer and no rating, for there is none."""
    product = sheet.site.publication.products[id]
    node: dict[str, Any] = {
        "@type": "Product",
        "name": product.name,
        "brand": {"@type": "Brand", "name": product.maker},
    }
    if description:
        node["description"] = description
    if product.photo and (image := image_address(sheet, product.photo.file.id)):
        node["image"] = image
    properties = [
        {"@type": "PropertyValue", "name": f"{f.name}, {f.detail}" if f.detail else f.name, "value": f.value}
        for f in findings
    ]
    if properties:
        node["additionalProperty"] = properties
    return node


def image_address(sheet: Sheet, file: str) -> str:
    """The public address of a picture's largest JPEG; empty where there is none."""
    found = sheet.site.pictures.get(file)
    return sheet.site.plan.absolute(found.files[-1].jpeg) if found else ""


def dated(published: dt.date | None, updated: dt.date | None) -> dict[str, Any]:
    """Dates of publication and last change."""
    node: dict[str, Any] = {}
    if published:
        node["datePublished"] = published.isoformat()
        node["dateModified"] = (updated or published).isoformat()
    return node


def item_list(sheet: Sheet, name: str, entries: Iterable[Entry]) -> dict[str, Any]:
    """A list of pages, in the order shown, without a claim that the order is a ranking."""
    items = [
        {
            "@type": "ListItem", "position": position, "name": entry.title,
            "url": sheet.site.plan.absolute(_from_root(sheet, entry.href)),
        }
        for position, entry in enumerate(entries, 1)
    ]  # fmt: skip
    return {
        "@type": "ItemList", "name": name, "numberOfItems": len(items),
        "itemListOrder": "https://schema.org/ItemListUnordered", "itemListElement": items,
    }  # fmt: skip


def datasets(sheet: Sheet, name: str, description: str, data: Iterable[Link]) -> list[dict[str, Any]]:
    """The readings that a page of their own offers, with their licence; none where it offers none."""
    settings = sheet.site.publication.settings
    files = [
        {
            "@type": "DataDownload", "name": link.text, "encodingFormat": "text/csv",
            "contentUrl": sheet.site.plan.address + _from_root(sheet, link.href),
        }
        for link in data
    ]  # fmt: skip
    if not files:
        return []
    node: dict[str, Any] = {
        "@type": "Dataset", "name": name, "description": description or name,
        "url": sheet.site.plan.absolute(sheet.path), "creator": person(settings.author),
        "publisher": publisher(sheet), "distribution": files,
    }  # fmt: skip
    if settings.data_licence:
        node["license"] = settings.licence_address or {"@type": "CreativeWork", "name": settings.data_licence}
    return [node]


def translations(sheet: Sheet) -> dict[str, Any]:
    """Of which work this one is a translation, or which translations it has; pages without a text of their own are neither."""
    plan = sheet.site.plan
    tags = own_languages(sheet)
    if sheet.tag not in tags:
        return {}
    if sheet.tag != plan.lead:
        path = plan.path(sheet.page, plan.lead) if plan.lead in tags else None
        return (
            {"translationOfWork": {"@type": "CreativeWork", "inLanguage": plan.lead, "url": plan.absolute(path)}}
            if path
            else {}
        )
    works = [
        {"@type": "CreativeWork", "inLanguage": tag, "url": plan.absolute(plan.path(sheet.page, tag) or "")}
        for tag in tags if tag != sheet.tag
    ]  # fmt: skip
    return {"workTranslation": works} if works else {}


def first_publication(sheet: Sheet, lang: str) -> dict[str, Any]:
    """What a review published elsewhere first is based on; one in the same language is also the same work as that.

    The lead's text counts as the translation of a first publication in another language; further editions are
    translations of the lead's.
    """
    first = first_published(sheet)
    if first is None:
        return {}
    work: dict[str, Any] = {
        "@type": "CreativeWork", "inLanguage": first.language, "datePublished": first.date.isoformat(),
        "publisher": {"@type": "Organization", "name": first.outlet},
    }  # fmt: skip
    if first.address:
        work["url"] = first.address
    if lang != first.language:
        return {"translationOfWork" if sheet.tag == sheet.site.plan.lead else "isBasedOn": work}
    return {"isBasedOn": work} | ({"sameAs": first.address} if first.address else {})
