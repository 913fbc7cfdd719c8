"""Tables, a standard's data package and pictures leave a logbook, and others' readers open them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest
from made_cards import jpeg

from camsign.answers.ask import VIEWS
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.flows.handover.camtrap import write_camtrap
from camsign.flows.handover.pictures import drawn_anew, write_pictures
from camsign.flows.handover.rounded import rounded
from camsign.flows.handover.tables import ALL, write_tables
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import add_area
from camsign.places.deployments import hang
from camsign.sign.record import SaidSighting, add_sign
from camsign.tags.bucks import add_buck
from camsign.tags.importing import import_tags
from camsign.tags.tagging import subject_of, tag
from camsign.units import Bearing, parse_when

T = TypeVar("T")
AT = (44.20501, -71.40502)
