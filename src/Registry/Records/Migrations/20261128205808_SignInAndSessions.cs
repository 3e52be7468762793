using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class SignInAndSessions : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<bool>(
                name: "demonstration",
                table: "site_keys",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "expires_at",
                table: "site_keys",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "scope",
                table: "site_keys",
                type: "text",
                nullable: false,
                defaultValue: "send_and_read");

            migrationBuilder.AddColumn<bool>(
                name: "demonstration",
                table: "people",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "disabled_at",
                table: "people",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "given_password_until",
                table: "people",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "form_keys",
                columns: table => new
                {
                    id = table.Column<int>(type: "integer", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    name = table.Column<string>(type: "text", nullable: true),
                    content = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_form_keys", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "installation",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    created_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    demonstration = table.Column<bool>(type: "boolean", nullable: false, defaultValue: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_installation", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "sessions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    token_sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    opened_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    seen_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    address = table.Column<string>(type: "text", nullable: true),
                    browser = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_sessions", x => x.id);
                    table.ForeignKey(
                        name: "fk_sessions_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_sessions_person_id_opened_at",
                table: "sessions",
                columns: new[] { "person_id", "opened_at" });

            migrationBuilder.CreateIndex(
                name: "ix_sessions_token_sha256",
                table: "sessions",
                column: "token_sha256",
                unique: true);

            migrationBuilder.Sql(
                """
                -- One row, whoever adds another.
                create unique index ix_installation_one on installation ((true));
                insert into installation (id, created_at) values (gen_random_uuid(), now());

                -- Whoever the demonstration let in before its rows were marked: the password and the keys are public.
                update site_keys set demonstration = true where prefix like 'reg\_demo\_%';
                update people set demonstration = true where normalized_email in
                  ('COORDINATOR@LINDMERE.EXAMPLE', 'MANAGER@FARROW-POINT.EXAMPLE', 'SCREENER@STILLWATER.EXAMPLE');
                -- A database with nobody else in it was made by the demonstration.
                update installation set demonstration = true
                 where exists (select 1 from people) and not exists (select 1 from people where not demonstration);
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "form_keys");

            migrationBuilder.DropTable(
                name: "installation");

            migrationBuilder.DropTable(
                name: "sessions");

            migrationBuilder.DropColumn(
                name: "demonstration",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "expires_at",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "scope",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "demonstration",
                table: "people");

            migrationBuilder.DropColumn(
                name: "disabled_at",
                table: "people");

            migrationBuilder.DropColumn(
                name: "given_password_until",
                table: "people");
        }
    }
}
