"""Pigments carried to another cloth: held to drawn studios on two cloths, and to the film's equation over a ground."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, HEAT_SET, State
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.mixing import workbench
from swatchcam.mixing.film_model import SUNK, Layer
from swatchcam.mixing.fresh_pot import new_recipe
from swatchcam.mixing.order import Order
from swatchcam.mixing.other_cloth import BARE, UPTAKE, BareCloths, layers_of, moves_of
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.prior import first_guess
from swatchcam.mixing.requests import PrintConditions
from swatchcam.mixing.target import TargetRequest
from swatchcam.mixing.workbench import set_up
from tests.worlds.hidden_studios import hidden_studio
from tests.worlds.inks import cloth, dyed_and_film
from tests.worlds.inkworld import World, guessed, off
from tests.worlds.mixing_library import CLOTH, Shop, put_kept
from tests.worlds.other_cloths import on_other_cloth
from tests.worlds.spectra import reflectance_lab
