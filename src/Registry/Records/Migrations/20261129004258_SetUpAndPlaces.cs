using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class SetUpAndPlaces : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropForeignKey(
                name: "fk_person_tokens_people_user_id",
                table: "person_tokens");

            migrationBuilder.AddColumn<string>(
                name: "care_level",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "changed_by",
                table: "sites",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<DateOnly>(
                name: "closed_on",
                table: "sites",
                type: "date",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "contact_email",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "contact_name",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "contact_phone",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "continued_by",
                table: "sites",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<string[]>(
                name: "counties_served",
                table: "sites",
                type: "text[]",
                nullable: false,
                defaultValueSql: "'{}'");

            migrationBuilder.AddColumn<string>(
                name: "npi",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<int>(
                name: "oldest_months",
                table: "sites",
                type: "integer",
                nullable: true);

            migrationBuilder.AddColumn<DateOnly>(
                name: "open_from",
                table: "sites",
                type: "date",
                nullable: true);

            migrationBuilder.AddColumn<string[]>(
                name: "services",
                table: "sites",
                type: "text[]",
                nullable: false,
                defaultValueSql: "'{}'");

            migrationBuilder.AddColumn<string>(
                name: "state_number",
                table: "sites",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<int>(
                name: "youngest_months",
                table: "sites",
                type: "integer",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "last_used_from",
                table: "site_keys",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "replaced_by",
                table: "site_keys",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "told_at",
                table: "site_keys",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "place_id",
                table: "sessions",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "second_factor_at",
                table: "sessions",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.AddColumn<long>(
                name: "last_code_step",
                table: "people",
                type: "bigint",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "one_time_links",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    purpose = table.Column<string>(type: "text", nullable: false),
                    token_sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: true),
                    made_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    made_by = table.Column<Guid>(type: "uuid", nullable: true),
                    ends_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    used_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_one_time_links", x => x.id);
                    table.ForeignKey(
                        name: "fk_one_time_links_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "person_passkeys",
                columns: table => new
                {
                    credential_id = table.Column<byte[]>(type: "bytea", maxLength: 1024, nullable: false),
                    user_id = table.Column<Guid>(type: "uuid", nullable: false),
                    data = table.Column<string>(type: "jsonb", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_person_passkeys", x => x.credential_id);
                    table.ForeignKey(
                        name: "fk_person_passkeys_people_user_id",
                        column: x => x.user_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "person_places",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    role = table.Column<string>(type: "text", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    since = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_person_places", x => x.id);
                    table.ForeignKey(
                        name: "fk_person_places_people_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_person_places_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "program_settings",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    stated_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    stated_by = table.Column<Guid>(type: "uuid", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    region = table.Column<string>(type: "text", nullable: false),
                    time_zone = table.Column<string>(type: "text", nullable: false),
                    phone = table.Column<string>(type: "text", nullable: false),
                    privacy_contact = table.Column<string>(type: "text", nullable: false),
                    languages = table.Column<string[]>(type: "text[]", nullable: false),
                    counties = table.Column<string[]>(type: "text[]", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_program_settings", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "set_up_steps",
                columns: table => new
                {
                    step = table.Column<string>(type: "text", nullable: false),
                    answered_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    answered_by = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_set_up_steps", x => x.step);
                });

            migrationBuilder.CreateIndex(
                name: "ix_sites_continued_by",
                table: "sites",
                column: "continued_by");

            migrationBuilder.CreateIndex(
                name: "ix_site_keys_replaced_by",
                table: "site_keys",
                column: "replaced_by");

            migrationBuilder.CreateIndex(
                name: "ix_sessions_place_id",
                table: "sessions",
                column: "place_id");

            migrationBuilder.CreateIndex(
                name: "ix_one_time_links_person_id",
                table: "one_time_links",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_one_time_links_token_sha256",
                table: "one_time_links",
                column: "token_sha256",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_person_passkeys_user_id",
                table: "person_passkeys",
                column: "user_id");

            migrationBuilder.CreateIndex(
                name: "ix_person_places_person_id_role_site_id",
                table: "person_places",
                columns: new[] { "person_id", "role", "site_id" },
                unique: true)
                .Annotation("Npgsql:NullsDistinct", false);

            migrationBuilder.CreateIndex(
                name: "ix_person_places_site_id",
                table: "person_places",
                column: "site_id");

            migrationBuilder.AddForeignKey(
                name: "fk_person_tokens_asp_net_users_user_id",
                table: "person_tokens",
                column: "user_id",
                principalTable: "people",
                principalColumn: "id",
                onDelete: ReferentialAction.Cascade);

            migrationBuilder.AddForeignKey(
                name: "fk_sessions_person_places_place_id",
                table: "sessions",
                column: "place_id",
                principalTable: "person_places",
                principalColumn: "id",
                onDelete: ReferentialAction.SetNull);

            migrationBuilder.AddForeignKey(
                name: "fk_site_keys_site_keys_replaced_by",
                table: "site_keys",
                column: "replaced_by",
                principalTable: "site_keys",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);

            migrationBuilder.AddForeignKey(
                name: "fk_sites_sites_continued_by",
                table: "sites",
                column: "continued_by",
                principalTable: "sites",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("Guards.Places"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql(
                "drop function keep_site_change() cascade; drop table site_changes; drop function keep_person_place() cascade;");

            migrationBuilder.DropForeignKey(
                name: "fk_person_tokens_asp_net_users_user_id",
                table: "person_tokens");

            migrationBuilder.DropForeignKey(
                name: "fk_sessions_person_places_place_id",
                table: "sessions");

            migrationBuilder.DropForeignKey(
                name: "fk_site_keys_site_keys_replaced_by",
                table: "site_keys");

            migrationBuilder.DropForeignKey(
                name: "fk_sites_sites_continued_by",
                table: "sites");

            migrationBuilder.DropTable(
                name: "one_time_links");

            migrationBuilder.DropTable(
                name: "person_passkeys");

            migrationBuilder.DropTable(
                name: "person_places");

            migrationBuilder.DropTable(
                name: "program_settings");

            migrationBuilder.DropTable(
                name: "set_up_steps");

            migrationBuilder.DropIndex(
                name: "ix_sites_continued_by",
                table: "sites");

            migrationBuilder.DropIndex(
                name: "ix_site_keys_replaced_by",
                table: "site_keys");

            migrationBuilder.DropIndex(
                name: "ix_sessions_place_id",
                table: "sessions");

            migrationBuilder.DropColumn(
                name: "care_level",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "changed_by",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "closed_on",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "contact_email",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "contact_name",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "contact_phone",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "continued_by",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "counties_served",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "npi",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "oldest_months",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "open_from",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "services",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "state_number",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "youngest_months",
                table: "sites");

            migrationBuilder.DropColumn(
                name: "last_used_from",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "replaced_by",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "told_at",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "place_id",
                table: "sessions");

            migrationBuilder.DropColumn(
                name: "second_factor_at",
                table: "sessions");

            migrationBuilder.DropColumn(
                name: "last_code_step",
                table: "people");

            migrationBuilder.AddForeignKey(
                name: "fk_person_tokens_people_user_id",
                table: "person_tokens",
                column: "user_id",
                principalTable: "people",
                principalColumn: "id",
                onDelete: ReferentialAction.Cascade);
        }
    }
}
