using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class HeldRowKeys : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_held_rows_birth_date",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_card_id",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows");

            migrationBuilder.AddColumn<Guid>(
                name: "infant_id",
                table: "held_rows",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "prior_record_number",
                table: "held_rows",
                type: "text",
                nullable: true);

            migrationBuilder.Sql(
                """
                update held_rows h
                   set infant_id = r.infant_id, prior_record_number = case h.kind when 'merge' then r.content ->> 'prior_record_number' end
                  from submission_rows r
                 where r.submission_id = h.submission_id and r.row_number = h.row_number and h.resolution is null
                   and (r.infant_id is not null or h.kind = 'merge')
                """);

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date_mother_born_on",
                table: "held_rows",
                columns: new[] { "birth_date", "mother_born_on" },
                filter: "resolution is null and mother_born_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date_mother_family_key",
                table: "held_rows",
                columns: new[] { "birth_date", "mother_family_key" },
                filter: "resolution is null and mother_family_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_card_id",
                table: "held_rows",
                column: "card_id",
                filter: "resolution is null and card_id is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_infant_id",
                table: "held_rows",
                column: "infant_id",
                filter: "resolution is null and infant_id is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_prior_record_number",
                table: "held_rows",
                columns: new[] { "site_id", "prior_record_number" },
                filter: "resolution is null and prior_record_number is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows",
                columns: new[] { "site_id", "record_number" },
                filter: "resolution is null and record_number is not null");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_held_rows_birth_date_mother_born_on",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_birth_date_mother_family_key",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_card_id",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_infant_id",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_site_id_prior_record_number",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows");

            migrationBuilder.DropColumn(
                name: "infant_id",
                table: "held_rows");

            migrationBuilder.DropColumn(
                name: "prior_record_number",
                table: "held_rows");

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
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows",
                columns: new[] { "site_id", "record_number" },
                filter: "resolution is null and reason = 'no_such_infant'");
        }
    }
}
