"""Sound inputs to begin from, a few for each target."""

import gzip
import io
from collections.abc import Mapping
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq
import zstandard

_ITEM: Final = (
    b'{"vehicle": "V-1", "taken_at": "2031-03-04T06:12:09-05:00", "state": "warm_idle", "device": "L-220",'
    b' "id": "a", "odometer_km": 48211, "values": {"LONGFT1": 3.9, "ECT": {"value": 194, "unit": "degF"},'
    b' "FUELSYS1": "CL", "CAM_SYNC": true}, "switches": {"ac": false}}'
)
_RAW: Final = (
    b'{"vehicle": "V-2", "taken_at": "2031-03-04T11:12:09Z", "service01": "41 0C 0B B8 05 82", "driver": "x"}'
)
_TABLE: Final = (
    b"vehicle,taken_at,state,device,id,odometer_km,ac,LONGFT1,ECT [degF],Coolant,FUELSYS1,service01\n"
    b"V-1,2031-03-04T06:12:09-05:00,warm_idle,L-1,a,48211.5,true,2.5,194,90,CL,41 05 82\n"
    b'"V,2",2031-03-04T06:12:09Z,,,,,,"1,5",,"say ""x""",,\n'
)
_MENDED: Final = (
    b"vehicle,taken_at,RPM,why_refused\nV-1,2031-03-04T06:12:09Z,700,A value. [bad-value]\n"
    b'V-2,2031-03-04T06:12:09Z,"7\n00",x\n'
)
_SPECS: Final = (
    b'{"spec_sheets": [{"sheet": "HARROW-24", "revision": 2, "source": "p. 6", "fuel": "gasoline",'
    b' "displacement_l": 2.4, "limits": [{"parameter": "LONGFT1", "state": "warm_idle", "low": -8.0,'
    b' "high": 8.0, "unit": "%"}], "aliases": {"BATTERY VOLTS": "VPWR"}, "soak_hours": 5}]}'
)
_SPECS_TOML: Final = (
    b'[[spec_sheets]]\nsheet = "HARROW-24"\nrevision = 2\nsource = "p. 6"\nsoak_hours = 5\n'
    b'[[spec_sheets.limits]]\nparameter = "VPWR"\nstate = "warm_idle"\nlow = 13.4\nhigh = 15.0\nunit = "V"\n'
)
_VEHICLES: Final = (
    b"vehicle,vin,spec_sheet,depot,time_zone,in_service_on\nV-1,,HARROW-24,North,UTC,2030-01-01\n"
)
_WORK: Final = (
    b"vehicle,done_at,kind,cause,ticket,parts_cost,labour_hours,notes\n"
    b"V-1,2031-03-04T06:12:09Z,repair,charging_low,,10.5,2,x\n"
)
_ALIASES: Final = b"scope,scope_id,name,parameter,unit\nfleet,,Coolant,ECT,degF\n"
_COSTS: Final = b"cause,parts_cost,labour_hours,roadside_cost,currency\ncharging_low,120,1.5,400,EUR\n"


def _parquet() -> bytes:
    table = pa.table(
        {
            "vehicle": pa.array(["V-1", "V-2", "V-1"]).dictionary_encode(),
            "taken_at": pa.array([1_930_000_000_000_000, None, 1], pa.timestamp("us", "UTC")),
            "ac": pa.array([True, None, False]),
            "odometer_km": pa.array([1.0, None, 2.0]),
            "RPM": pa.array([700, None, 800], pa.int32()),
            "FUELSYS1": pa.array(["CL", None, "OL"]),
            "nest": pa.array([{"lat": 48.1, "n": [1, 2]}, None, None]),
        }
    )
    out = io.BytesIO()
    pq.write_table(table, out, row_group_size=2, compression="none")
    return out.getvalue()


SEEDS: Final[Mapping[str, tuple[bytes, ...]]] = {
    "json": (_ITEM, b"[" + _ITEM + b"," + _RAW + b"]", b'{"snapshots": [' + _RAW + b"]}"),
    "ndjson": (_ITEM + b"\n" + _RAW + b"\n", b"\xef\xbb\xbf" + _RAW),
    "ndjson-pieces": (_ITEM + b"\n" + _RAW + b"\n\n" + _ITEM,),
    "csv": (_TABLE, _MENDED),
    "csv-pieces": (_TABLE, _MENDED),
    "parquet": (_parquet(),),
    "service01": (
        b"41 0C 1A F8 0D 00 05 7B 06 80\r\r>",
        bytes.fromhex("410C1AF8057B14801D"),
        b"41 4F 00 00 00 1A",
    ),
    "gzip": (gzip.compress(_ITEM, mtime=0), gzip.compress(b"", mtime=0) * 2),
    "zstd": (zstandard.compress(_ITEM), zstandard.compress(bytes(100_000))),
    "records": (_SPECS, _SPECS_TOML, _VEHICLES, _WORK, _ALIASES, _COSTS),
}
"""Sound inputs by target."""
