"""The title of a link or a picture, in which values may stand."""

from markdown_it.token import Token

from sitegen.place import Place
from sitegen.text.markdown_grammar import LITERAL_BRACE
from sitegen.text.markdown_pieces import ValueSlot, Words
from sitegen.text.value_grammar import MEANT, VALUE, tidy_path


def title_words(token: Token, place: Place) -> Words:
    """The title of a link or a picture; its values stand at the place of the whole."""
    title = str(token.attrs.get("title", ""))
    words: list[str | ValueSlot] = []
    end = 0
    for found in VALUE.finditer(title):
        if found[1].strip() == MEANT:
            words.append(title[end : found.start()])
            end = found.end()
        elif found[1].strip():
            words += [title[end : found.start()], ValueSlot(tidy_path(found[1]), place)]
            end = found.end()
    words.append(title[end:])
    plain = (word.replace(LITERAL_BRACE, "{") if isinstance(word, str) else word for word in words)
    return tuple(word for word in plain if word != "")
