namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>Every access message of the published mesh specifications: the rows of access-messages.tsv, in the order of their opcodes.</summary>
public static class AccessCatalogue
{
    private const int Columns = 10;

    // Made when first asked, without the cells of the rows: a capture uses few of them.
    private static readonly Lazy<Index> Rows = new(static () => new Index());
    private static readonly Lazy<Dictionary<string, MessageDefinition>> ByName =
        new(static () => All.ToDictionary(row => row.Name, StringComparer.Ordinal));

    private static readonly Lazy<MessageDefinition[]> AllRows = new(static () => Rows.Value.All());

    public static IReadOnlyList<MessageDefinition> All => AllRows.Value;

    public static MessageDefinition? Find(Opcode opcode) => Rows.Value.Find(opcode.Value);

    /// <summary>By the standard's name, letters as there.</summary>
    public static MessageDefinition? Find(string name) => ByName.Value.GetValueOrDefault(name);

    private sealed class Index
    {
        private readonly Table _table = Table.Open("access-messages", Columns);
        private readonly uint[] _opcodes;
        private readonly MessageDefinition?[] _definitions;

        public Index()
        {
            _opcodes = new uint[_table.Count];
            _definitions = new MessageDefinition?[_table.Count];
            for (int i = 0; i < _opcodes.Length; i++)
            {
                _opcodes[i] = Hexadecimal(_table.Key(i));
                if (i > 0 && _opcodes[i] <= _opcodes[i - 1])
                    throw new InvalidDataException($"table access-messages, line {i + 2}: rows are not in the order of their opcodes");
            }
        }

        public MessageDefinition? Find(uint opcode)
        {
            int from = 0, to = _opcodes.Length - 1;
            while (from <= to)
            {
                int middle = (from + to) / 2;
                if (_opcodes[middle] == opcode)
                    return At(middle);
                if (_opcodes[middle] < opcode)
                    from = middle + 1;
                else
                    to = middle - 1;
            }
            return null;
        }

        public MessageDefinition[] All()
        {
            var all = new MessageDefinition[_definitions.Length];
            for (int i = 0; i < all.Length; i++)
                all[i] = At(i);
            return all;
        }

        // Two threads that come at once make the same row; one of the two stays.
        private MessageDefinition At(int row) =>
            _definitions[row] ?? Interlocked.CompareExchange(ref _definitions[row], Parse(_table.Cells(row)), null) ?? _definitions[row]!;

        private static MessageDefinition Parse(string[] cells)
        {
            string key = cells[3];
            string response = cells[4];
            string layout = cells[6];
            return new MessageDefinition(new Opcode(Layouts.Numerals.ParseUnsigned(cells[0])), cells[1], layout)
            {
                Group = cells[2],
                UsesDeviceKey = key.Contains("DevKey", StringComparison.Ordinal),
                UsesApplicationKey = key.Contains("AppKey", StringComparison.Ordinal),
                Response = response == "-" ? null : new Opcode(Layouts.Numerals.ParseUnsigned(response)),
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
            return Array.ConvertAll(numbers, number => (ushort)Layouts.Numerals.ParseUnsigned(number));
        }

        private static uint Hexadecimal(ReadOnlySpan<byte> text)
        {
            uint value = 0;
            for (int i = 2; i < text.Length; i++)
                value = (value << 4) | (uint)(text[i] <= '9' ? text[i] - '0' : text[i] - 'A' + 10);
            return value;
        }
    }
}
