-- The table that summaries from keelmark share are loaded into, one row a total or group. Load each csv with
--   \copy share from 'keelmark-share-K7.csv' with (format csv, header, force_not_null (measure, scale, half, size, sex, age))
-- Columns are described in ../README.md.
create table share (
    version  integer          not null check (version = 1),
    code     text             not null,
    part     text             not null check (part in ('flock', 'total', 'cell')),
    measure  text             not null,
    scale    text             not null,
    half     text             not null,
    size     text             not null,
    sex      text             not null,
    age      text             not null,
    season   integer,
    birds    integer          not null check (birds >= 0),
    clusters integer,
    n        double precision not null check (n >= 0),
    x        double precision not null check (x >= 0),
    spread   double precision not null check (spread >= 0),
    checksum text             not null,
    unique nulls not distinct (code, part, measure, scale, half, size, sex, age, season)
);
