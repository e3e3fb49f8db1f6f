"""The names of cameras are compared whatever their accents, hyphens, signs of times and Unicode form."""

import sqlalchemy as sa
from alembic import op

from camerawright.wording.names import name_key

revision = "0003"
down_revision = "0002"

_KEYS = ("maker_key", "model_key", "serial_key")


def upgrade() -> None:
    """Fold every name again; of two cameras that are one by now, the later keeps the key that it had."""
    connection = op.get_bind()
    camera = sa.Table("camera", sa.MetaData(), autoload_with=connection)
    taken = set()
    for row in connection.execute(sa.select(camera).order_by(camera.c.n)).all():
        keys = tuple(name_key(getattr(row, name.removesuffix("_key"))) for name in _KEYS)
        if keys in taken:
            keys = tuple(getattr(row, name) for name in _KEYS)
        taken.add(keys)
        variant = " / ".join(map(name_key, (row.maker, row.model, row.variant)))
        values = dict(zip(_KEYS, keys, strict=True)) | {"variant_key": variant}
        connection.execute(sa.update(camera).where(camera.c.n == row.n).values(values))
