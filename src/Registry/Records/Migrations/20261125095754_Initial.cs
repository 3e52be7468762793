using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class Initial : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "access_records",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: true),
                    site_key_id = table.Column<Guid>(type: "uuid", nullable: true),
                    action = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: true),
                    infant_count = table.Column<int>(type: "integer", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_access_records", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "benchmark_results",
                columns: table => new
                {
                    measure = table.Column<string>(type: "text", nullable: false),
                    period_start = table.Column<DateOnly>(type: "date", nullable: false),
                    period_end = table.Column<DateOnly>(type: "date", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    numerator = table.Column<int>(type: "integer", nullable: false),
                    denominator = table.Column<int>(type: "integer", nullable: false),
                    exclusions = table.Column<string>(type: "jsonb", nullable: false),
                    computed_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_benchmark_results", x => new { x.measure, x.period_start, x.period_end, x.as_of });
                });

            migrationBuilder.CreateTable(
                name: "infant_status",
                columns: table => new
                {
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false),
                    birth_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    responsible_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    right_ear = table.Column<string>(type: "text", nullable: false),
                    left_ear = table.Column<string>(type: "text", nullable: false),
                    screening = table.Column<string>(type: "text", nullable: false),
                    screened_state = table.Column<string>(type: "text", nullable: false),
                    screened_deadline_on = table.Column<DateOnly>(type: "date", nullable: false),
                    screened_on = table.Column<DateOnly>(type: "date", nullable: true),
                    screened_reason = table.Column<string>(type: "text", nullable: false),
                    diagnosed_state = table.Column<string>(type: "text", nullable: false),
                    diagnosed_deadline_on = table.Column<DateOnly>(type: "date", nullable: false),
                    diagnosed_on = table.Column<DateOnly>(type: "date", nullable: true),
                    diagnosed_reason = table.Column<string>(type: "text", nullable: false),
                    enrolled_state = table.Column<string>(type: "text", nullable: false),
                    enrolled_deadline_on = table.Column<DateOnly>(type: "date", nullable: false),
                    enrolled_on = table.Column<DateOnly>(type: "date", nullable: true),
                    enrolled_reason = table.Column<string>(type: "text", nullable: false),
                    hearing = table.Column<string>(type: "text", nullable: false),
                    next_step = table.Column<string>(type: "text", nullable: true),
                    next_due_on = table.Column<DateOnly>(type: "date", nullable: true),
                    dues = table.Column<string>(type: "jsonb", nullable: false),
                    loss = table.Column<string>(type: "text", nullable: false),
                    lost_at = table.Column<string>(type: "text", nullable: true),
                    screening_category = table.Column<string>(type: "text", nullable: false),
                    diagnosis_category = table.Column<string>(type: "text", nullable: false),
                    intervention_category = table.Column<string>(type: "text", nullable: false),
                    flags = table.Column<int>(type: "integer", nullable: false),
                    next_change_on = table.Column<DateOnly>(type: "date", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_status", x => x.infant_id);
                });

            migrationBuilder.CreateTable(
                name: "infants",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    created_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infants", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "job_runs",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    job = table.Column<string>(type: "text", nullable: false),
                    background_job_id = table.Column<string>(type: "text", nullable: false),
                    started_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    finished_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    outcome = table.Column<string>(type: "text", nullable: false),
                    said = table.Column<string>(type: "text", nullable: true),
                    error = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_job_runs", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "mail_stops",
                columns: table => new
                {
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    stopped_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_mail_stops", x => x.infant_id);
                });

            migrationBuilder.CreateTable(
                name: "policies",
                columns: table => new
                {
                    version = table.Column<string>(type: "text", nullable: false),
                    effective_from = table.Column<DateOnly>(type: "date", nullable: false),
                    document = table.Column<string>(type: "jsonb", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    recorded_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_policies", x => x.version);
                });

            migrationBuilder.CreateTable(
                name: "sites",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    code = table.Column<string>(type: "text", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    county = table.Column<string>(type: "text", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    has_nicu = table.Column<bool>(type: "boolean", nullable: false),
                    active = table.Column<bool>(type: "boolean", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_sites", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "submission_chunks",
                columns: table => new
                {
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    ordinal = table.Column<int>(type: "integer", nullable: false),
                    bytes = table.Column<byte[]>(type: "bytea", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_submission_chunks", x => new { x.submission_id, x.ordinal });
                });

            migrationBuilder.CreateTable(
                name: "submission_rows",
                columns: table => new
                {
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    row_number = table.Column<int>(type: "integer", nullable: false),
                    line = table.Column<int>(type: "integer", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: true),
                    outcome = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: true),
                    problems = table.Column<string>(type: "jsonb", nullable: true),
                    content = table.Column<string>(type: "jsonb", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_submission_rows", x => new { x.submission_id, x.row_number });
                });

            migrationBuilder.CreateTable(
                name: "loss_findings",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    loss = table.Column<string>(type: "text", nullable: false),
                    found_on = table.Column<DateOnly>(type: "date", nullable: false),
                    recovered_on = table.Column<DateOnly>(type: "date", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_loss_findings", x => x.id);
                    table.ForeignKey(
                        name: "fk_loss_findings_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "reminders",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    due_on = table.Column<DateOnly>(type: "date", nullable: false),
                    ordinal = table.Column<int>(type: "integer", nullable: false),
                    state = table.Column<string>(type: "text", nullable: false),
                    queued_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    not_before = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    sending_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    sent_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    attempts = table.Column<int>(type: "integer", nullable: false),
                    last_error = table.Column<string>(type: "text", nullable: true),
                    stop_token = table.Column<string>(type: "text", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_reminders", x => x.id);
                    table.ForeignKey(
                        name: "fk_reminders_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "births",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false),
                    born_at = table.Column<TimeOnly>(type: "time without time zone", nullable: true),
                    place = table.Column<string>(type: "text", nullable: false),
                    sex = table.Column<string>(type: "text", nullable: false),
                    plurality = table.Column<int>(type: "integer", nullable: true),
                    birth_order = table.Column<int>(type: "integer", nullable: true),
                    gestation_weeks = table.Column<int>(type: "integer", nullable: true),
                    birth_weight_grams = table.Column<int>(type: "integer", nullable: true),
                    nicu_admitted_on = table.Column<DateOnly>(type: "date", nullable: true),
                    nicu_discharged_on = table.Column<DateOnly>(type: "date", nullable: true),
                    discharged_on = table.Column<DateOnly>(type: "date", nullable: true),
                    infant_given_name = table.Column<string>(type: "text", nullable: true),
                    infant_family_name = table.Column<string>(type: "text", nullable: true),
                    mother_given_name = table.Column<string>(type: "text", nullable: true),
                    mother_family_name = table.Column<string>(type: "text", nullable: true),
                    mother_born_on = table.Column<DateOnly>(type: "date", nullable: true),
                    mother_family_key = table.Column<string>(type: "text", nullable: true),
                    mother_given_key = table.Column<string>(type: "text", nullable: true),
                    county = table.Column<string>(type: "text", nullable: true),
                    insurance = table.Column<string>(type: "text", nullable: true),
                    language = table.Column<string>(type: "text", nullable: true),
                    race_ethnicity = table.Column<string>(type: "text", nullable: true),
                    maternal_education = table.Column<string>(type: "text", nullable: true),
                    contact_email = table.Column<string>(type: "text", nullable: true),
                    contact_phone = table.Column<string>(type: "text", nullable: true),
                    email_consent = table.Column<bool>(type: "boolean", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_births", x => x.id);
                    table.ForeignKey(
                        name: "fk_births_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_births_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "contacts",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    attempted_on = table.Column<DateOnly>(type: "date", nullable: false),
                    outcome = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_contacts", x => x.id);
                    table.ForeignKey(
                        name: "fk_contacts_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_contacts_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "deaths",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    died_on = table.Column<DateOnly>(type: "date", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_deaths", x => x.id);
                    table.ForeignKey(
                        name: "fk_deaths_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_deaths_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "diagnoses",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    evaluated_on = table.Column<DateOnly>(type: "date", nullable: false),
                    right_finding = table.Column<string>(type: "text", nullable: false),
                    left_finding = table.Column<string>(type: "text", nullable: false),
                    right_degree = table.Column<string>(type: "text", nullable: false),
                    left_degree = table.Column<string>(type: "text", nullable: false),
                    provisional = table.Column<bool>(type: "boolean", nullable: false),
                    permanent = table.Column<bool>(type: "boolean", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_diagnoses", x => x.id);
                    table.ForeignKey(
                        name: "fk_diagnoses_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_diagnoses_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "held_rows",
                columns: table => new
                {
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    row_number = table.Column<int>(type: "integer", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    held_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    record_number = table.Column<string>(type: "text", nullable: true),
                    card_id = table.Column<string>(type: "text", nullable: true),
                    birth_date = table.Column<DateOnly>(type: "date", nullable: true),
                    mother_family_key = table.Column<string>(type: "text", nullable: true),
                    mother_born_on = table.Column<DateOnly>(type: "date", nullable: true),
                    resolution = table.Column<string>(type: "text", nullable: true),
                    resolved_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    resolved_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_held_rows", x => new { x.submission_id, x.row_number });
                    table.ForeignKey(
                        name: "fk_held_rows_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "infant_identifiers",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    value = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_identifiers", x => x.id);
                    table.ForeignKey(
                        name: "fk_infant_identifiers_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_infant_identifiers_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "interventions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    happened_on = table.Column<DateOnly>(type: "date", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_interventions", x => x.id);
                    table.ForeignKey(
                        name: "fk_interventions_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_interventions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "medical_delays",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    from_on = table.Column<DateOnly>(type: "date", nullable: false),
                    ended_on = table.Column<DateOnly>(type: "date", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_medical_delays", x => x.id);
                    table.ForeignKey(
                        name: "fk_medical_delays_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_medical_delays_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "moves",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    moved_on = table.Column<DateOnly>(type: "date", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_moves", x => x.id);
                    table.ForeignKey(
                        name: "fk_moves_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_moves_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "people",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    display_name = table.Column<string>(type: "text", nullable: false),
                    role = table.Column<string>(type: "text", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    user_name = table.Column<string>(type: "character varying(256)", maxLength: 256, nullable: true),
                    normalized_user_name = table.Column<string>(type: "character varying(256)", maxLength: 256, nullable: true),
                    email = table.Column<string>(type: "character varying(256)", maxLength: 256, nullable: true),
                    normalized_email = table.Column<string>(type: "character varying(256)", maxLength: 256, nullable: true),
                    email_confirmed = table.Column<bool>(type: "boolean", nullable: false),
                    password_hash = table.Column<string>(type: "text", nullable: true),
                    security_stamp = table.Column<string>(type: "text", nullable: true),
                    concurrency_stamp = table.Column<string>(type: "text", nullable: true),
                    phone_number = table.Column<string>(type: "text", nullable: true),
                    phone_number_confirmed = table.Column<bool>(type: "boolean", nullable: false),
                    two_factor_enabled = table.Column<bool>(type: "boolean", nullable: false),
                    lockout_end = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    lockout_enabled = table.Column<bool>(type: "boolean", nullable: false),
                    access_failed_count = table.Column<int>(type: "integer", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_people", x => x.id);
                    table.ForeignKey(
                        name: "fk_people_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "quality_findings",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    subject = table.Column<string>(type: "text", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    measure = table.Column<string>(type: "text", nullable: false),
                    found_on = table.Column<DateOnly>(type: "date", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    resolved_on = table.Column<DateOnly>(type: "date", nullable: true),
                    numerator = table.Column<int>(type: "integer", nullable: false),
                    denominator = table.Column<int>(type: "integer", nullable: false),
                    target = table.Column<double>(type: "double precision", nullable: false),
                    evidence = table.Column<string>(type: "text", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_quality_findings", x => x.id);
                    table.ForeignKey(
                        name: "fk_quality_findings_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "readmissions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    admitted_on = table.Column<DateOnly>(type: "date", nullable: false),
                    discharged_on = table.Column<DateOnly>(type: "date", nullable: true),
                    raises_risk = table.Column<bool>(type: "boolean", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_readmissions", x => x.id);
                    table.ForeignKey(
                        name: "fk_readmissions_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_readmissions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "refusals",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    refused_on = table.Column<DateOnly>(type: "date", nullable: false),
                    revoked_on = table.Column<DateOnly>(type: "date", nullable: true),
                    refused_by = table.Column<string>(type: "text", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_refusals", x => x.id);
                    table.ForeignKey(
                        name: "fk_refusals_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_refusals_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "risks",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    noted_on = table.Column<DateOnly>(type: "date", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_risks", x => x.id);
                    table.ForeignKey(
                        name: "fk_risks_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_risks_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "screenings",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    ear = table.Column<string>(type: "text", nullable: false),
                    method = table.Column<string>(type: "text", nullable: false),
                    outcome = table.Column<string>(type: "text", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    stage = table.Column<string>(type: "text", nullable: false),
                    performed_at = table.Column<DateTime>(type: "timestamp without time zone", nullable: false),
                    instrument = table.Column<string>(type: "text", nullable: true),
                    probe = table.Column<string>(type: "text", nullable: true),
                    screener = table.Column<string>(type: "text", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_screenings", x => x.id);
                    table.ForeignKey(
                        name: "fk_screenings_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_screenings_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "site_keys",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    prefix = table.Column<string>(type: "text", nullable: false),
                    sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    created_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    revoked_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    last_used_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_site_keys", x => x.id);
                    table.ForeignKey(
                        name: "fk_site_keys_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "submissions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    format = table.Column<string>(type: "text", nullable: false),
                    state = table.Column<string>(type: "text", nullable: false),
                    default_kind = table.Column<string>(type: "text", nullable: true),
                    received_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    site_key_id = table.Column<Guid>(type: "uuid", nullable: true),
                    person_id = table.Column<Guid>(type: "uuid", nullable: true),
                    idempotency_key = table.Column<string>(type: "text", nullable: true),
                    file_name = table.Column<string>(type: "text", nullable: true),
                    sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    byte_count = table.Column<long>(type: "bigint", nullable: false),
                    row_count = table.Column<int>(type: "integer", nullable: false),
                    rows_done = table.Column<int>(type: "integer", nullable: false),
                    accepted = table.Column<int>(type: "integer", nullable: false),
                    unchanged = table.Column<int>(type: "integer", nullable: false),
                    rejected = table.Column<int>(type: "integer", nullable: false),
                    held = table.Column<int>(type: "integer", nullable: false),
                    refusal = table.Column<string>(type: "jsonb", nullable: true),
                    finished_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_submissions", x => x.id);
                    table.ForeignKey(
                        name: "fk_submissions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "transfers",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    transferred_on = table.Column<DateOnly>(type: "date", nullable: false),
                    to_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_transfers", x => x.id);
                    table.ForeignKey(
                        name: "fk_transfers_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_transfers_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "person_claims",
                columns: table => new
                {
                    id = table.Column<int>(type: "integer", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    user_id = table.Column<Guid>(type: "uuid", nullable: false),
                    claim_type = table.Column<string>(type: "text", nullable: true),
                    claim_value = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_person_claims", x => x.id);
                    table.ForeignKey(
                        name: "fk_person_claims_people_user_id",
                        column: x => x.user_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Cascade);
                });

            migrationBuilder.CreateTable(
                name: "person_logins",
                columns: table => new
                {
                    login_provider = table.Column<string>(type: "text", nullable: false),
                    provider_key = table.Column<string>(type: "text", nullable: false),
                    provider_display_name = table.Column<string>(type: "text", nullable: true),
                    user_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_person_logins", x => new { x.login_provider, x.provider_key });
                    table.ForeignKey(
                        name: "fk_person_logins_people_user_id",
                        column: x => x.user_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Cascade);
                });

            migrationBuilder.CreateTable(
                name: "person_tokens",
                columns: table => new
                {
                    user_id = table.Column<Guid>(type: "uuid", nullable: false),
                    login_provider = table.Column<string>(type: "text", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    value = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_person_tokens", x => new { x.user_id, x.login_provider, x.name });
                    table.ForeignKey(
                        name: "fk_person_tokens_people_user_id",
                        column: x => x.user_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Cascade);
                });

            migrationBuilder.CreateIndex(
                name: "ix_access_records_at",
                table: "access_records",
                column: "at");

            migrationBuilder.CreateIndex(
                name: "ix_access_records_infant_id",
                table: "access_records",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_births_born_on_mother_born_on",
                table: "births",
                columns: new[] { "born_on", "mother_born_on" },
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_births_born_on_mother_family_key",
                table: "births",
                columns: new[] { "born_on", "mother_family_key" },
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_births_infant_id",
                table: "births",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_births_infant_id1",
                table: "births",
                column: "infant_id",
                unique: true,
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_births_site_id",
                table: "births",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_contacts_infant_id",
                table: "contacts",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_contacts_site_id",
                table: "contacts",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_deaths_infant_id",
                table: "deaths",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_deaths_site_id",
                table: "deaths",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_diagnoses_infant_id",
                table: "diagnoses",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_diagnoses_site_id",
                table: "diagnoses",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date",
                table: "held_rows",
                column: "birth_date",
                filter: "resolution is null and reason = 'no_such_infant'");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_card_id",
                table: "held_rows",
                column: "card_id",
                filter: "resolution is null and reason = 'no_such_infant'");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_reason",
                table: "held_rows",
                columns: new[] { "site_id", "reason" },
                filter: "resolution is null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows",
                columns: new[] { "site_id", "record_number" },
                filter: "resolution is null and reason = 'no_such_infant'");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_infant_id",
                table: "infant_identifiers",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_site_id_value",
                table: "infant_identifiers",
                columns: new[] { "site_id", "value" },
                unique: true,
                filter: "superseded_at is null and kind = 'record_number'");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_value",
                table: "infant_identifiers",
                column: "value",
                unique: true,
                filter: "superseded_at is null and kind = 'card_id'");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_birth_site_id",
                table: "infant_status",
                column: "birth_site_id");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_born_on",
                table: "infant_status",
                column: "born_on");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_next_change_on",
                table: "infant_status",
                column: "next_change_on");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_responsible_site_id_next_due_on",
                table: "infant_status",
                columns: new[] { "responsible_site_id", "next_due_on" });

            migrationBuilder.CreateIndex(
                name: "ix_interventions_infant_id",
                table: "interventions",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_interventions_site_id",
                table: "interventions",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_job_runs_background_job_id",
                table: "job_runs",
                column: "background_job_id",
                filter: "outcome = 'running'");

            migrationBuilder.CreateIndex(
                name: "ix_job_runs_job_started_at",
                table: "job_runs",
                columns: new[] { "job", "started_at" });

            migrationBuilder.CreateIndex(
                name: "ix_loss_findings_infant_id",
                table: "loss_findings",
                column: "infant_id",
                unique: true,
                filter: "recovered_on is null");

            migrationBuilder.CreateIndex(
                name: "ix_medical_delays_infant_id",
                table: "medical_delays",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_medical_delays_site_id",
                table: "medical_delays",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_moves_infant_id",
                table: "moves",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_moves_site_id",
                table: "moves",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "EmailIndex",
                table: "people",
                column: "normalized_email");

            migrationBuilder.CreateIndex(
                name: "ix_people_site_id",
                table: "people",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "UserNameIndex",
                table: "people",
                column: "normalized_user_name",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_person_claims_user_id",
                table: "person_claims",
                column: "user_id");

            migrationBuilder.CreateIndex(
                name: "ix_person_logins_user_id",
                table: "person_logins",
                column: "user_id");

            migrationBuilder.CreateIndex(
                name: "ix_quality_findings_site_id_subject_name_measure",
                table: "quality_findings",
                columns: new[] { "site_id", "subject", "name", "measure" },
                unique: true,
                filter: "resolved_on is null");

            migrationBuilder.CreateIndex(
                name: "ix_readmissions_infant_id",
                table: "readmissions",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_readmissions_site_id",
                table: "readmissions",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_refusals_infant_id",
                table: "refusals",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_refusals_site_id",
                table: "refusals",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_reminders_infant_id_step_due_on_ordinal",
                table: "reminders",
                columns: new[] { "infant_id", "step", "due_on", "ordinal" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_reminders_state",
                table: "reminders",
                column: "state");

            migrationBuilder.CreateIndex(
                name: "ix_reminders_stop_token",
                table: "reminders",
                column: "stop_token",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_risks_infant_id",
                table: "risks",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_risks_site_id",
                table: "risks",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_screenings_infant_id",
                table: "screenings",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_screenings_site_id_performed_at",
                table: "screenings",
                columns: new[] { "site_id", "performed_at" });

            migrationBuilder.CreateIndex(
                name: "ix_site_keys_sha256",
                table: "site_keys",
                column: "sha256",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_site_keys_site_id",
                table: "site_keys",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_sites_code",
                table: "sites",
                column: "code",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_sites_name",
                table: "sites",
                column: "name",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_open",
                table: "submission_rows",
                column: "submission_id",
                filter: "outcome in ('held','rejected')");

            migrationBuilder.CreateIndex(
                name: "ix_submissions_received_at",
                table: "submissions",
                column: "received_at");

            migrationBuilder.CreateIndex(
                name: "ix_submissions_site_id_idempotency_key",
                table: "submissions",
                columns: new[] { "site_id", "idempotency_key" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_submissions_state",
                table: "submissions",
                column: "state",
                filter: "state in ('received','processing')");

            migrationBuilder.CreateIndex(
                name: "ix_transfers_infant_id",
                table: "transfers",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_transfers_site_id",
                table: "transfers",
                column: "site_id");

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("Guards"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "access_records");

            migrationBuilder.DropTable(
                name: "benchmark_results");

            migrationBuilder.DropTable(
                name: "births");

            migrationBuilder.DropTable(
                name: "contacts");

            migrationBuilder.DropTable(
                name: "deaths");

            migrationBuilder.DropTable(
                name: "diagnoses");

            migrationBuilder.DropTable(
                name: "held_rows");

            migrationBuilder.DropTable(
                name: "infant_identifiers");

            migrationBuilder.DropTable(
                name: "infant_status");

            migrationBuilder.DropTable(
                name: "interventions");

            migrationBuilder.DropTable(
                name: "job_runs");

            migrationBuilder.DropTable(
                name: "loss_findings");

            migrationBuilder.DropTable(
                name: "mail_stops");

            migrationBuilder.DropTable(
                name: "medical_delays");

            migrationBuilder.DropTable(
                name: "moves");

            migrationBuilder.DropTable(
                name: "person_claims");

            migrationBuilder.DropTable(
                name: "person_logins");

            migrationBuilder.DropTable(
                name: "person_tokens");

            migrationBuilder.DropTable(
                name: "policies");

            migrationBuilder.DropTable(
                name: "quality_findings");

            migrationBuilder.DropTable(
                name: "readmissions");

            migrationBuilder.DropTable(
                name: "refusals");

            migrationBuilder.DropTable(
                name: "reminders");

            migrationBuilder.DropTable(
                name: "risks");

            migrationBuilder.DropTable(
                name: "screenings");

            migrationBuilder.DropTable(
                name: "site_keys");

            migrationBuilder.DropTable(
                name: "submission_chunks");

            migrationBuilder.DropTable(
                name: "submission_rows");

            migrationBuilder.DropTable(
                name: "submissions");

            migrationBuilder.DropTable(
                name: "transfers");

            migrationBuilder.DropTable(
                name: "people");

            migrationBuilder.DropTable(
                name: "infants");

            migrationBuilder.DropTable(
                name: "sites");
        }
    }
}
