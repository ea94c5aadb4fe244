"""The table of actions as bindings of the terminal library."""

from collections.abc import Iterable

from textual.binding import Binding, BindingType

from fermwatch.dashboard.actions import Action, by_key


def bindings(actions: Iterable[Action]) -> list[BindingType]:
    """Each leads to `action_act` of the app, with the action's name."""
    return [
        Binding(
            key,
            f"app.act('{action.name}')",
            action.label,
            show=action.in_footer and key == action.keys[0],
            key_display=action.key_words[0],
            id=f"{action.name}-{key}",
        )
        for key, action in by_key(actions)
    ]
