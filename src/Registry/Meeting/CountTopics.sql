select topic, count(*)::int from seen group by topic;
