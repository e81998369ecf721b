"""The form of every JSON object that the commands print, key by key; code elsewhere builds and reads it."""

from .cards import (
    CardJson,
    CardPrintJson,
    CardRemovedJson,
    CardsJson,
    CardTestJson,
    CardTiedJson,
    RowJson,
    RowPrintJson,
)
from .export import LibraryJson
from .handbook import ChapterJson, ContentsJson
from .leftovers import LeftoversJson
from .library import (
    BatchAccountJson,
    HeatSeriesJson,
    KeptJson,
    NearJson,
    PairJson,
    RecordJson,
    ShadeAccountJson,
    ShadesJson,
)
from .library_care import ChangeJson, ChangesJson, CountJson, DoneJson, FillJson, LogJson, VerifyJson, WhereJson
from .measuring import CheckJson, MeasurementJson, StainingJson
from .messages import FlagJson, RefusedJson
from .mixing import AnswerJson, PredictionsJson
from .pigments import PaletteJson, PigmentJson, SeriesJson
from .shelf import PreMixJson, ShelfJson, StudioJson
from .weighing import AmountJson, OpacityJson, WeighingJson

# In reading order. The keys of one that stands here are described once, also where another object holds it.
JSON_OBJECTS: tuple[type, ...] = (
    CheckJson,
    StainingJson,
    MeasurementJson,
    FlagJson,
    RefusedJson,
    OpacityJson,
    NearJson,
    CardJson,
    CardPrintJson,
    CardsJson,
    CardTiedJson,
    CardRemovedJson,
    CardTestJson,
    RowJson,
    RowPrintJson,
    RecordJson,
    KeptJson,
    PairJson,
    ShadesJson,
    ShadeAccountJson,
    BatchAccountJson,
    HeatSeriesJson,
    ChangeJson,
    ChangesJson,
    LogJson,
    AnswerJson,
    LeftoversJson,
    WeighingJson,
    PredictionsJson,
    AmountJson,
    PaletteJson,
    PigmentJson,
    SeriesJson,
    ShelfJson,
    PreMixJson,
    StudioJson,
    ContentsJson,
    ChapterJson,
    WhereJson,
    FillJson,
    CountJson,
    VerifyJson,
    DoneJson,
    LibraryJson,
)
