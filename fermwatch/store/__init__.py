"""The store of a site: what the watcher writes and everybody of its group reads.

`open_store` is the only door. Each backend has a folder of its own, which nobody outside this room names.
"""

from fermwatch.contracts.store import Store
from fermwatch.errors import ConfigError


def open_store(url: str, site: str) -> Store:
    """The store of a site, by the URL that says where stores lie: `file:///a/directory`.

    Nothing is open before its reader or its writer is. ConfigError where the URL or the site's name cannot be meant so.
    """
    scheme, _, rest = url.partition(":")
    if scheme == "file" and rest.startswith("///"):
        from fermwatch.store.sqlite.place import SqliteStore

        return SqliteStore.at(url, site)
    hint = "Name a directory, as file:///var/lib/fermwatch."
    raise ConfigError(f"no store is known that {url!r:.80} could name.", key="store", hint=hint)
