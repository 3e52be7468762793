using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class HandOffs : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "hand_offs",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    to_site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    to_name = table.Column<string>(type: "text", nullable: true),
                    sent_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    sent_by = table.Column<Guid>(type: "uuid", nullable: false),
                    sent_as = table.Column<string>(type: "text", nullable: false),
                    sent_for_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    acknowledge_by = table.Column<DateOnly>(type: "date", nullable: false),
                    state = table.Column<string>(type: "text", nullable: false),
                    acknowledged_on = table.Column<DateOnly>(type: "date", nullable: true),
                    consent_on = table.Column<DateOnly>(type: "date", nullable: true),
                    shown_to_site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    form_key = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_hand_offs", x => x.id);
                    table.ForeignKey(
                        name: "fk_hand_offs_asp_net_users_sent_by",
                        column: x => x.sent_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_offs_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_offs_sites_sent_for_site_id",
                        column: x => x.sent_for_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_offs_sites_shown_to_site_id",
                        column: x => x.shown_to_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_offs_sites_to_site_id",
                        column: x => x.to_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "answer_requests",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    purpose = table.Column<string>(type: "text", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    to_site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    hand_off_id = table.Column<Guid>(type: "uuid", nullable: true),
                    asked_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    asked_by = table.Column<Guid>(type: "uuid", nullable: false),
                    token_sha256 = table.Column<byte[]>(type: "bytea", nullable: true),
                    ends_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    tries = table.Column<int>(type: "integer", nullable: false),
                    answered_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    revoked_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_answer_requests", x => x.id);
                    table.ForeignKey(
                        name: "fk_answer_requests_asp_net_users_asked_by",
                        column: x => x.asked_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_answer_requests_hand_offs_hand_off_id",
                        column: x => x.hand_off_id,
                        principalTable: "hand_offs",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_answer_requests_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_answer_requests_sites_to_site_id",
                        column: x => x.to_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "hand_off_events",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    hand_off_id = table.Column<Guid>(type: "uuid", nullable: false),
                    act = table.Column<string>(type: "text", nullable: false),
                    at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: true),
                    role = table.Column<string>(type: "text", nullable: true),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    reason = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_hand_off_events", x => x.id);
                    table.ForeignKey(
                        name: "fk_hand_off_events_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_off_events_hand_offs_hand_off_id",
                        column: x => x.hand_off_id,
                        principalTable: "hand_offs",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_hand_off_events_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_answer_requests_asked_by",
                table: "answer_requests",
                column: "asked_by");

            migrationBuilder.CreateIndex(
                name: "ix_answer_requests_hand_off_id",
                table: "answer_requests",
                column: "hand_off_id");

            migrationBuilder.CreateIndex(
                name: "ix_answer_requests_infant_id",
                table: "answer_requests",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_answer_requests_to_site_id",
                table: "answer_requests",
                column: "to_site_id",
                filter: "answered_at is null and revoked_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_answer_requests_token_sha256",
                table: "answer_requests",
                column: "token_sha256",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_hand_off_events_hand_off_id",
                table: "hand_off_events",
                column: "hand_off_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_off_events_person_id",
                table: "hand_off_events",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_off_events_site_id",
                table: "hand_off_events",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_form_key",
                table: "hand_offs",
                column: "form_key",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_infant_id",
                table: "hand_offs",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_sent_by",
                table: "hand_offs",
                column: "sent_by");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_sent_for_site_id",
                table: "hand_offs",
                column: "sent_for_site_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_shown_to_site_id",
                table: "hand_offs",
                column: "shown_to_site_id");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_to_site_id_state",
                table: "hand_offs",
                columns: new[] { "to_site_id", "state" },
                filter: "superseded_at is null");

            // What happened is added only. Erasing an infant empties the name of whoever it was handed to.
            migrationBuilder.Sql(
                """
                create trigger hand_off_events_append_only before update or delete or truncate on hand_off_events
                  for each statement execute function refuse_change();
                create trigger hand_offs_no_delete before delete or truncate on hand_offs
                  for each statement execute function refuse_change();
                create trigger answer_requests_no_delete before delete or truncate on answer_requests
                  for each statement execute function refuse_change();

                create function empty_names_of_erased() returns trigger
                  language plpgsql security definer set search_path = public, pg_temp as $$
                begin
                  update hand_offs set to_name = null where infant_id = new.infant_id and to_name is not null;
                  return null;
                end $$;
                revoke all on function empty_names_of_erased() from public;
                create trigger erasure_requests_empty_names after update on erasure_requests
                  for each row when (new.decision = 'erased' and old.decision is null) execute function empty_names_of_erased();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql(
                "drop trigger erasure_requests_empty_names on erasure_requests; drop function empty_names_of_erased();");

            migrationBuilder.DropTable(
                name: "answer_requests");

            migrationBuilder.DropTable(
                name: "hand_off_events");

            migrationBuilder.DropTable(
                name: "hand_offs");
        }
    }
}
