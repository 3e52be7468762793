using Registry.Facts;

namespace Registry.Access;

/// <summary>What the reader sees of a table.</summary>
public enum ReaderSees
{
    Nothing,

    /// <summary>Every row: it says nothing of a person.</summary>
    All,

    /// <summary>The rows of infants the viewer sees.</summary>
    SeenInfants,

    /// <summary>The rows of the viewer's site, and of closed ones it continues.</summary>
    OwnSites,

    /// <summary>The rows of the viewer's keys (<see cref="Viewer.Keys"/>).</summary>
    OwnKeys,
}

/// <summary>What the logins of web and worker may do with a table; what is not said here they may not.</summary>
/// <param name="Table">Its name.</param>
/// <param name="Writes">What the writer may do beside reading.</param>
/// <param name="Reader">What the reader sees.</param>
/// <param name="Infant">The column row security asks about: the infant's, or that of the site.</param>
public sealed record TableRights(string Table, string Writes, ReaderSees Reader = ReaderSees.Nothing, string Infant = "infant_id")
{
    /// <summary>A column with a site that sees the infant by the facts it is derived from: asked before them, and for most rows the last
    /// question.</summary>
    public string? OfSite { get; init; }

    /// <summary>A column with a site that sees the infant, where each row is kept once for each of these, with the infant's county
    /// (<see cref="OfKey"/>): a site and a county read their own, by an index.</summary>
    public string? PerSite { get; init; }

    /// <summary>As <see cref="OfSite"/>, a column with one of the viewer's keys.</summary>
    public string? OfKey { get; init; }

    private const string Append = "insert";
    private const string Change = "insert, update";
    private const string ChangeAndRemove = "insert, update, delete";

    /// <summary>Whether the reader sees some of its rows, by who the viewer is.</summary>
    public bool IsRowSecured => Reader is not (ReaderSees.Nothing or ReaderSees.All);

    /// <summary>Nothing recorded is edited or removed: at most columns that say how it ended are filled in.</summary>
    public bool IsAppendOnly => Writes != Change && Writes != ChangeAndRemove;

    /// <summary>The day's work, which is derived; and what is decided and done about it: added, and ended.</summary>
    private static IReadOnlyList<TableRights> OfWork { get; } =
    [
        new("infant_work", ChangeAndRemove, ReaderSees.SeenInfants) { OfSite = "responsible_site_id", OfKey = "county_key" },
        new("work_counts", ChangeAndRemove, ReaderSees.OwnSites, "responsible_site_id") { OfKey = "county_key" },
        new("work_put_off", "insert, update (ended_at)", ReaderSees.SeenInfants),
        new("infant_assignments", "insert, update (ended_at, ended_by)", ReaderSees.SeenInfants),
        new("hand_offs", "insert, update (state, acknowledged_on, consent_on, shown_to_site_id, superseded_at)", ReaderSees.SeenInfants),
        new("answer_requests", "insert, update (tries, answered_at, revoked_at, submission_id)", ReaderSees.SeenInfants),
        new("searches", "insert, update (superseded_at)", ReaderSees.SeenInfants),
        new("closed_work", "insert, update (reopened_at, reopened_by)", ReaderSees.SeenInfants),
        new("clinic_openings", "insert, update (withdrawn_at, withdrawn_by)"),
        new("booked_openings", Append, ReaderSees.SeenInfants),
    ];

    /// <summary>The one list of tables. A table that is not here is closed to web and worker, and fails a test.</summary>
    public static IReadOnlyList<TableRights> All { get; } =
    [
        // Facts: added, and closed once. An infant is locked while facts are added, which takes the right to change a column; a trigger
        // refuses the change.
        new("infants", "insert, update (created_at)", ReaderSees.SeenInfants, "id"),
        .. FactKinds.Tables.Append("corrections").Select(t =>
            new TableRights(t, "insert, update (superseded_at)", ReaderSees.SeenInfants)),
        new("infant_sites", "", ReaderSees.OwnSites, "site_id"), // triggers fill it
        new("infant_shown", "", ReaderSees.OwnKeys), new("site_heirs", "", ReaderSees.All), // likewise
        new("infant_words", "", ReaderSees.SeenInfants) { PerSite = "site_id", OfKey = "county_key" }, // likewise
        new("search_words", "", ReaderSees.All),
        new("screening_details", Append, ReaderSees.SeenInfants, "screening_id"),
        new("screening_bands", Append, ReaderSees.SeenInfants, "screening_id"),
        new("diagnosis_details", Append, ReaderSees.SeenInfants, "diagnosis_id"),
        new("diagnosis_thresholds", Append, ReaderSees.SeenInfants, "diagnosis_id"),

        // Who looked, who was somebody when, what was sent, what was decided: added only.
        new("access_records", Append),
        new("trail_digests", Append),
        .. new[] { "person_changes", "site_changes" }.Select(t => new TableRights(t, "")), // triggers fill them
        .. new[] { "program_settings", "set_up_steps", "hand_off_events", "site_report_mails" }.Select(t => new TableRights(t, Append)),
        .. new[] { "submission_chunks", "row_changes", "column_mapping_versions", "published_reports", "loss_histories" }
            .Select(t => new TableRights(t, Append)),
        new("policies", "insert, update (withdrawn_at, withdrawn_by)"),
        new("submissions",
            "insert, update (state, row_count, rows_done, accepted, unchanged, rejected, held, still_waiting, refusal, finished_at)"),
        .. OfWork,
        new("opened_glasses", "insert, update (ended_at, ended_by, told_at)"),
        .. new[] { "mail_stops", "claim_decisions", "flag_acts", "flag_digests", "quality_plans" }.Select(t => new TableRights(t, Append)),
        new("installation", "update (demonstration)"),
        new("form_keys", Append),
        new("erasure_requests", "insert, update (decision, decided_at, decided_by)"),

        // What changes, and stays.
        .. new[] { "people", "sessions", "one_time_links", "care_agreements" }.Select(t => new TableRights(t, Change)),
        .. new[] { "unmatched_counts", "alarms", "quality_findings", "policy_drafts" }.Select(t => new TableRights(t, Change)),
        new("backups", Append), new("site_report_requests", "insert, update (ended_at)"),
        new("sites", Change, ReaderSees.All),
        new("site_keys", "insert, update (name, revoked_at, last_used_at, last_used_from, expires_at, replaced_by, told_at, "
            + "public_keys, certificates)"),
        new("submission_rows", Change),
        new("reminders", Change),
        new("loss_findings", Change, ReaderSees.SeenInfants),
        new("equipment_events", "insert, update (taken_back_at, taken_back_by)"),

        // What waits, and is done with; what is derived, and derived again.
        .. new[] { "held_rows", "bulk_decisions", "bulk_rows", "key_tokens", "saved_views", "default_views" }
            .Select(t => new TableRights(t, ChangeAndRemove)),
        .. new[] { "claims", "places", "logins", "tokens", "passkeys" }.Select(t => new TableRights($"person_{t}", ChangeAndRemove)),
        new("infant_status", ChangeAndRemove, ReaderSees.SeenInfants),
        new("infant_status_snapshot", ChangeAndRemove, ReaderSees.SeenInfants),
        new("status_snapshots", ChangeAndRemove),
        new("counted_tests", ChangeAndRemove, ReaderSees.SeenInfants),
        .. new[] { "screen_counts", "count_changes", "status_counts", "status_marks", "kept_back", "compared_units" }
            .Select(t => new TableRights(t, ChangeAndRemove)),
        new("benchmark_results", ChangeAndRemove),
        new("job_runs", ChangeAndRemove),
        new("__EFMigrationsHistory", ""),
    ];
}
