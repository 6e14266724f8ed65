-- The pooled numbers of keelmark compare, from the table share alone: views that end in one row a flock and measure
-- (compared) and one row a measure (pooled). Shares are fractions.

-- One row a flock, measure and scale: half years together. Half years share birds, so the most behind one counts.
create view flock_total as
select code, measure, scale, sum(n) as n, sum(x) as x, max(birds) as birds, sum(coalesce(clusters, 0)) as clusters
from share where part = 'total' group by code, measure, scale having sum(n) > 0;

create view pool as
select measure, scale, count(*) as flocks, sum(n) as n, sum(x) as x, sum(x) / sum(n) as rate,
       measure in ('lice', 'mites', 'condition', 'fertile', 'verified', 'hatch day') as is_share
from flock_total group by measure, scale;

-- For shares the mean times that clusters vary more than independent members, and the correlation within clusters behind it
-- (design effect 1 + (m - 1) alike of m members a cluster); for others the variance between birds.
create view dispersion as
select p.measure, p.scale,
       case when sum(w) is null or sum(w) = 0 then 1
            when p.is_share then greatest(1, sum(w * spread) / sum(w))
            else sum(w * spread) / sum(w) end as dispersion,
       case when p.is_share and sum(w * (m - 1)) > 0 then least(greatest(sum(w * (spread - 1)) / sum(w * (m - 1)), 0), 1) else 0 end as alike
from pool p
left join lateral (
    select t.spread, t.n / t.clusters as m, t.n * case when p.is_share then (t.x / t.n) * (1 - t.x / t.n) else 1 end as w
    from share t where t.part = 'total' and t.measure = p.measure and t.scale = p.scale and t.spread > 0 and t.n > 0
) as halves on true
group by p.measure, p.scale, p.is_share;

-- The groups of each flock, half years together.
create view flock_group as
select code, measure, scale, size, sex, age, coalesce(season, 0) as season, sum(n) as n, sum(x) as x
from share where part = 'cell' group by code, measure, scale, size, sex, age, coalesce(season, 0);

-- Reference rates of all flocks, at each way to tell groups apart, so that coarser groups of one flock find theirs too.
create view reference as
select measure, scale, size, sex, age, season, sum(x) / sum(n) as rate
from (
    select code, measure, scale, g.size as s0, g.sex as x0, g.age as a0, g.season as t0, l.size, l.sex, l.age, l.season, n, x
    from flock_group g
    cross join lateral (
        select g.size, g.sex, g.age, g.season
        union select g.size, '', g.age, g.season
        union select '', '', g.age, g.season
        union select '', '', g.age, 0
        union select '', '', '', g.season
    ) as l (size, sex, age, season)
) as every_level
group by measure, scale, size, sex, age, season having sum(n) > 0;

-- Indirect standardisation (Breslow & Day 1987, section 2.3): the pool's rate for a flock's mix; what a flock hides is taken
-- at the pool's whole rate.
create view expected as
select t.code, t.measure, t.scale,
       (coalesce(g.told, 0) + greatest(0, t.n - coalesce(g.seen, 0)) * p.rate) / t.n as expected
from flock_total t
join pool p using (measure, scale)
left join (
    select g.code, g.measure, g.scale, sum(g.n * r.rate) as told, sum(g.n) as seen
    from flock_group g join reference r using (measure, scale, size, sex, age, season)
    group by g.code, g.measure, g.scale
) as g using (code, measure, scale);

create view compared as
select t.code, t.measure, t.scale, t.birds, t.n, t.x, t.x / t.n as rate, e.expected, t.x / t.n - e.expected as difference,
       case when t.measure in ('weight', 'growth', 'condition') and t.birds > 0 then greatest(1, t.clusters::float8 / t.birds) else 1 end
       * case when p.is_share then (1 + greatest(0, coalesce(t.n / nullif(t.clusters, 0), 1) - 1) * d.alike) * q.chance * (1 - q.chance) else greatest(d.dispersion, 1e-12) end / t.n as variance
from flock_total t
join pool p using (measure, scale)
join dispersion d using (measure, scale)
join expected e using (code, measure, scale)
cross join lateral (select least(greatest(e.expected, 0.5 / (p.n + 1)), 1 - 0.5 / (p.n + 1)) as chance) as q;

-- DerSimonian & Laird 1986, Control. Clin. Trials 7:177: variance between flocks, and the mean with flocks as units and its
-- range of 90 %.
create view pooled as
with c as materialized (
    select * from compared
), fixed as (
    select measure, scale, count(*) as flocks, sum(1 / variance) as w, sum(1 / variance ^ 2) as w2, sum(difference / variance) / sum(1 / variance) as mean
    from c group by measure, scale having count(*) > 1
), heterogeneity as (
    select measure, scale, f.flocks, sum((c.difference - f.mean) ^ 2 / c.variance) as q,
           greatest(0, (sum((c.difference - f.mean) ^ 2 / c.variance) - (f.flocks - 1)) / (f.w - f.w2 / f.w)) as tau2
    from fixed f join c using (measure, scale) group by measure, scale, f.flocks, f.w, f.w2
), random as (
    select measure, scale, sum(c.difference / (c.variance + h.tau2)) / sum(1 / (c.variance + h.tau2)) as mean, sqrt(1 / sum(1 / (c.variance + h.tau2))) as se
    from heterogeneity h join c using (measure, scale) group by measure, scale
)
select measure, scale, h.flocks, p.n, p.rate, d.dispersion, h.q, h.tau2, m.mean, m.mean - 1.6448536269514722 * m.se as low, m.mean + 1.6448536269514722 * m.se as high
from heterogeneity h
join random m using (measure, scale)
join pool p using (measure, scale)
join dispersion d using (measure, scale);
