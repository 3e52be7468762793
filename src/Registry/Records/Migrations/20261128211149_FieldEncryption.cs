using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class FieldEncryption : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "key_id",
                table: "submission_chunks",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "contact_email_key",
                table: "births",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "contact_phone_key",
                table: "births",
                type: "text",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "ix_births_contact_email_key",
                table: "births",
                column: "contact_email_key",
                filter: "superseded_at is null and contact_email_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_births_contact_phone_key",
                table: "births",
                column: "contact_phone_key",
                filter: "superseded_at is null and contact_phone_key is not null");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_births_contact_email_key",
                table: "births");

            migrationBuilder.DropIndex(
                name: "ix_births_contact_phone_key",
                table: "births");

            migrationBuilder.DropColumn(
                name: "key_id",
                table: "submission_chunks");

            migrationBuilder.DropColumn(
                name: "contact_email_key",
                table: "births");

            migrationBuilder.DropColumn(
                name: "contact_phone_key",
                table: "births");
        }
    }
}
