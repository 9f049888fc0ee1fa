namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>Every access message of the published mesh specifications: the rows of access-messages.tsv, read when first asked.</summary>
public static class AccessCatalogue
{
    private static readonly Lazy<Index> Rows = new(() => new Index());

    public static IReadOnlyList<MessageDefinition> All => Rows.Value.All;

    public static MessageDefinition? Find(Opcode opcode) => opcode.IsVendor ? null : Rows.Value.ByOpcode.GetValueOrDefault(opcode.Value);

    /// <summary>By the standard's name, letters as there.</summary>
    public static MessageDefinition? Find(string name) => Rows.Value.ByName.GetValueOrDefault(name);

    private sealed class Index
    {
        private const int Columns = 10;

        public Index()
        {
            List<string[]> rows = Table.Read("access-messages", Columns);
            All = new MessageDefinition[rows.Count];
            ByOpcode = new Dictionary<uint, MessageDefinition>(rows.Count);
            ByName = new Dictionary<string, MessageDefinition>(rows.Count, StringComparer.Ordinal);
            for (int i = 0; i < All.Length; i++)
            {
                MessageDefinition row = Parse(rows[i]);
                All[i] = row;
                ByOpcode.Add(row.Opcode.Value, row);
                ByName.Add(row.Name, row);
            }
        }

        public MessageDefinition[] All { get; }
        public Dictionary<uint, MessageDefinition> ByOpcode { get; }
        public Dictionary<string, MessageDefinition> ByName { get; }

        private static MessageDefinition Parse(string[] cells)
        {
            string key = cells[3];
            string response = cells[4];
            string layout = cells[6];
            return new MessageDefinition(new Opcode(Numeral(cells[0])), cells[1], layout)
            {
                Group = cells[2],
                UsesDeviceKey = key.Contains("DevKey", StringComparison.Ordinal),
                UsesApplicationKey = key.Contains("AppKey", StringComparison.Ordinal),
                Response = response == "-" ? null : new Opcode(Numeral(response)),
                ServerModels = Models(cells[5]),
                HasTid = layout.Contains("TID:8", StringComparison.Ordinal),
                Source = cells[7],
            };
        }

        private static ushort[] Models(string cell)
        {
            if (cell == "-")
                return [];
            string[] numbers = cell.Split(' ');
            return Array.ConvertAll(numbers, number => (ushort)Numeral(number));
        }

        private static uint Numeral(string text) => Layouts.Numerals.ParseUnsigned(text);
    }
}
